/* A logger file as a picture, drawn by plotly from the data in the page; and its size before it is
   sent. The page works without it: the same stands in its tables. */
(function () {
  "use strict";

  const INKS = { temperature_c: "--chart-vermilion", flow_l_min: "--line-flow", conductivity_ms_cm: "--chart-ink" };
  const PANEL_PX = 190;

  function colour(name) {
    return getComputedStyle(document.documentElement).getPropertyValue(name).trim();
  }

  function faded(hex, share) {
    const part = (at) => parseInt(hex.slice(at, at + 2), 16);
    return `rgba(${part(1)}, ${part(3)}, ${part(5)}, ${share})`;
  }

  // Whether axes are of moments (by the brewery's clock) or of minutes of the file.
  function placeOn(chart) {
    const start = chart.start ? Date.parse(`${chart.start}Z`) : null;
    return (seconds) => (start === null ? seconds / 60 : start + seconds * 1000);
  }

  // The file, or the clean alone where the file holds far more than it.
  function shownAtFirst(chart) {
    const from = Math.min(...chart.steps.map((step) => step.from));
    const until = Math.max(...chart.steps.map((step) => step.until));
    if (!chart.steps.length || chart.duration_s < 3 * (until - from)) return [0, chart.duration_s];
    const room = (until - from) * 0.05;
    return [from - room, until + room];
  }

  function rangeOf(panel, steps) {
    const known = panel.values.filter((value) => value !== null);
    let low = Math.min(...known);
    let high = Math.max(...known);
    steps.forEach(function (step) {
      (step.windows[panel.quantity] || []).forEach(function (bound) {
        if (bound === null) return;
        low = Math.min(low, bound);
        high = Math.max(high, bound);
      });
    });
    const room = (high - low || Math.abs(high) || 1) * 0.06;
    return [low - room, high + room];
  }

  function figureOf(chart, narrow) {
    const at = placeOn(chart);
    const ink = colour("--chart-ink");
    const line = colour("--chart-grid");
    const count = chart.panels.length;
    const times = window.written.dates === "month_first" ? "%-I:%M:%S %p" : "%H:%M:%S";
    const layout = {
      separators: window.written.decimal === "," ? ",\u202f" : ".,",
      height: PANEL_PX * count + 90,
      margin: { l: narrow ? 44 : 60, r: 8, t: 44, b: 40 },
      paper_bgcolor: colour("--chart-sheet"),
      plot_bgcolor: colour("--chart-sheet"),
      font: { family: "system-ui, sans-serif", size: 13, color: ink },
      showlegend: false,
      hovermode: "x unified",
      // A finger that scrolls the page does not move the picture; buttons do.
      dragmode: window.matchMedia("(pointer: fine)").matches ? "zoom" : false,
      xaxis: {
        type: chart.start ? "date" : "linear",
        range: shownAtFirst(chart).map(at),
        anchor: `y${count > 1 ? count : ""}`,
        gridcolor: line,
        linecolor: ink,
        title: chart.start ? undefined : { text: "minutes of the file" },
        hoverformat: chart.start ? times : ".1f",
      },
      shapes: [],
      annotations: [],
    };
    const data = chart.panels.map(function (panel, place) {
      const name = place ? `y${place + 1}` : "y";
      const range = rangeOf(panel, chart.steps);
      const top = 1 - place / count;
      const drawn = colour(INKS[panel.quantity] || "--chart-ink");
      layout[place ? `yaxis${place + 1}` : "yaxis"] = {
        domain: [top - 1 / count + 0.02, top - 0.06],
        range: range,
        fixedrange: true,
        gridcolor: line,
        linecolor: ink,
        zeroline: false,
        nticks: 6,
      };
      layout.annotations.push({
        text: panel.unit ? `${panel.title}, ${panel.unit}` : panel.title,
        xref: "paper", yref: "paper", x: 0, y: top - 0.055, xanchor: "left", yanchor: "bottom",
        showarrow: false, font: { size: 13, color: ink },
      });
      chart.steps.forEach(function (step) {
        const window = step.windows[panel.quantity];
        if (!window) return;
        layout.shapes.push({
          type: "rect", layer: "below", xref: "x", yref: name,
          x0: at(step.from), x1: at(step.until),
          y0: window[0] === null ? range[0] : window[0],
          y1: window[1] === null ? range[1] : window[1],
          fillcolor: faded(colour("--chart-teal"), 0.22),
          line: { color: colour("--chart-teal"), width: 1.5, dash: "dot" },
        });
      });
      return {
        type: "scatter", mode: "lines", name: panel.title, connectgaps: false,
        x: panel.seconds.map(at), y: panel.values, xaxis: "x", yaxis: name,
        line: { color: drawn, width: 1.75 },
        hovertemplate: `%{y:.4~g} ${panel.unit}<extra>${panel.title}</extra>`,
      };
    });
    chart.steps.forEach(function (step) {
      [step.from, step.until].forEach(function (edge) {
        layout.shapes.push({
          type: "line", xref: "x", yref: "paper", x0: at(edge), x1: at(edge), y0: 0, y1: 1,
          line: { color: colour("--chart-line"), width: 1 },
        });
      });
      layout.annotations.push({
        text: narrow ? step.label.split(".")[0] : step.label,
        xref: "x", yref: "paper", x: at((step.from + step.until) / 2), y: 1,
        yanchor: "bottom", showarrow: false, textangle: narrow ? 0 : -20,
        font: { size: 12, color: ink },
      });
    });
    return { data: data, layout: layout };
  }

  function addTools(tools, node, chart) {
    const at = placeOn(chart);
    const whole = [at(0), at(chart.duration_s)];
    const now = () => node.layout.xaxis.range.map((edge) =>
      typeof edge === "number" ? edge : Date.parse(`${String(edge).replace(" ", "T")}Z`));
    const show = (range) => window.Plotly.relayout(node, { "xaxis.range": range });
    const button = function (words, work) {
      const made = document.createElement("button");
      made.type = "button";
      made.textContent = words;
      made.addEventListener("click", work);
      tools.append(made);
    };
    const shift = (share) => function () {
      const [from, until] = now();
      const by = (until - from) * share;
      show([from + by, until + by]);
    };
    const zoom = (factor) => function () {
      const [from, until] = now();
      const middle = (from + until) / 2;
      const half = ((until - from) / 2) * factor;
      show([middle - half, middle + half]);
    };
    button("Whole file", () => show(whole));
    chart.steps.forEach(function (step) {
      const room = (step.until - step.from) * 0.1;
      button(step.label, () => show([at(step.from - room), at(step.until + room)]));
    });
    button("Earlier", shift(-0.5));
    button("Later", shift(0.5));
    button("Closer", zoom(0.5));
    button("Wider", zoom(2));
    tools.hidden = false;
  }

  function draw(node) {
    const chart = JSON.parse(document.getElementById(node.dataset.chart).textContent);
    const narrow = window.matchMedia("(max-width: 40rem)");
    const again = function () {
      const figure = figureOf(chart, narrow.matches);
      return window.Plotly.react(node, figure.data, figure.layout, {
        displayModeBar: false, responsive: true, doubleClick: "reset", scrollZoom: false,
      });
    };
    node.hidden = false;
    again().then(function () {
      addTools(document.querySelector("[data-chart-tools]"), node, chart);
      node.dataset.drawn = "yes";
    });
    window.matchMedia("(prefers-color-scheme: dark)").addEventListener("change", again);
    narrow.addEventListener("change", again);
  }

  // Said before it is sent: a file that is too large would only be sent in vain.
  function watchSize(input) {
    const most = Number(input.dataset.mostBytes);
    const note = document.createElement("p");
    note.className = "error";
    note.setAttribute("role", "alert");
    note.hidden = true;
    input.closest(".field").append(note);
    input.addEventListener("change", function () {
      const file = input.files[0];
      const large = Boolean(file) && file.size > most;
      const mega = (bytes) => Math.round(bytes / 1e6);
      note.textContent = large
        ? `The file has ${mega(file.size)} MB. At most ${mega(most)} MB can be sent. ` +
          "Export this clean alone."
        : "";
      note.hidden = !large;
      input.setCustomValidity(note.textContent);
    });
    input.form.addEventListener("submit", function (event) {
      if (input.validity.customError) {
        event.preventDefault();
        delete input.form.dataset.sent;
        input.focus();
      }
    });
  }

  document.querySelectorAll("input[data-most-bytes]").forEach(watchSize);
  if (window.Plotly) document.querySelectorAll("[data-chart]").forEach(draw);
})();
