/* Figures that can be touched: plotly draws them from the data in the page, over what the server
   drew. Arrow keys go from dot to dot and each is told; Enter follows its link. The page stands
   without it: the server's drawing and the table say the same. */
(function () {
  "use strict";

  const SYMBOLS = {
    disc: "circle", ring: "circle-open", square: "square", diamond: "diamond",
    up: "triangle-up", down: "triangle-down", cross: "x-thin", plus: "cross-thin",
  };
  const PALE = ["sky", "orange", "purple", "yellow"];
  const DASHES = { solid: "solid", dash: "6px,4px", dot: "1.5px,3px" };
  const LINE_PX = 17;
  const SIGN_PX = 7;
  const MOMENT_ROWS = 3;
  const DARK_CELL = 0.72;
  // A chart over time with more dots than these can be looked at more closely.
  const MANY = 60;

  const coarse = window.matchMedia("(pointer: coarse)");
  const narrow = window.matchMedia("(max-width: 40rem)");
  const dark = window.matchMedia("(prefers-color-scheme: dark)");

  function colour(ink) {
    return getComputedStyle(document.documentElement).getPropertyValue(`--chart-${ink}`).trim();
  }

  function faded(ink, share) {
    let hex = colour(ink).slice(1);
    if (hex.length === 3) hex = [...hex].map((sign) => sign + sign).join("");
    const part = (at) => parseInt(hex.slice(at, at + 2), 16);
    return `rgba(${part(0)}, ${part(2)}, ${part(4)}, ${share})`;
  }

  function safe(words) {
    return words.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;");
  }

  // In lines that a phone can show.
  function folded(words, most) {
    return words.split("\n").map(function (line) {
      const lines = [""];
      line.split(" ").forEach(function (word) {
        const last = lines[lines.length - 1];
        if (last && last.length + word.length >= most) lines.push(word);
        else lines[lines.length - 1] = last ? `${last} ${word}` : word;
      });
      return lines.map(safe).join("<br>");
    }).join("<br>");
  }

  function shortened(words, most) {
    return words.length > most ? `${words.slice(0, most - 1).trimEnd()}…` : words;
  }

  function thinned(axis, most) {
    const pace = Math.max(1, Math.ceil(axis.at.length / Math.max(2, most)));
    const kept = (every) => every.filter((_, place) => place % pace === 0);
    return { at: kept(axis.at), words: kept(axis.words) };
  }

  function placeOn(axis) {
    return axis.kind === "time" ? (value) => (value === null ? null : value * 1000) : (value) => value;
  }

  // A place in words, where a mark has none of its own.
  function toldPlace(axis, value) {
    if (axis.kind === "time") {
      return new Date(value * 1000).toLocaleString("en-GB", {
        timeZone: "UTC", day: "numeric", month: "short", year: "numeric", hour: "2-digit", minute: "2-digit",
      });
    }
    const named = axis.at.indexOf(value);
    if (named >= 0) return axis.words[named];
    return String(Number(value.toPrecision(4)));
  }

  /* ---- marks as traces ---- */

  // Each maker returns a trace and, where it can be touched, its series of dots.
  const MAKERS = {
    line(mark, panel, chart) {
      const at = placeOn(chart.x);
      return {
        type: "scatter", mode: "lines", connectgaps: false, x: mark.x.map(at), y: mark.y,
        line: {
          color: colour(mark.ink), width: mark.width, dash: DASHES[mark.dash],
          shape: mark.steps ? "hv" : "linear", simplify: true,
        },
        hoverinfo: "skip",
      };
    },
    dots(mark, panel, chart) {
      const open = ["ring", "cross", "plus"].includes(mark.shape);
      return {
        type: "scatter", mode: "markers", x: mark.x.map(placeOn(chart.x)), y: mark.y,
        marker: {
          symbol: SYMBOLS[mark.shape], size: mark.size * (mark.shape === "disc" ? 1 : 1.15),
          color: colour(mark.ink), opacity: 1,
          line: {
            width: open ? 1.75 : PALE.includes(mark.ink) ? 0.75 : 0,
            color: open ? colour(mark.ink) : colour("soft"),
          },
        },
      };
    },
    bars(mark, panel, chart) {
      const at = mark.at.map(placeOn(mark.sideways ? panel.y : chart.x));
      const time = !mark.sideways && chart.x.kind === "time";
      return {
        type: "bar", orientation: mark.sideways ? "h" : "v", width: mark.width * (time ? 1000 : 1),
        x: mark.sideways ? mark.length : at, y: mark.sideways ? at : mark.length,
        marker: {
          color: colour(mark.ink),
          line: { width: PALE.includes(mark.ink) ? 0.75 : 0, color: colour("soft") },
        },
      };
    },
    spread(mark, panel, chart) {
      const at = mark.at.map(placeOn(mark.sideways ? panel.y : chart.x));
      const side = (ends) => ends.map(function (end, place) {
        const middle = mark.middle[place];
        return end === null || middle === null ? 0 : Math.abs(end - middle);
      });
      const bar = {
        type: "data", symmetric: false, array: side(mark.high), arrayminus: side(mark.low),
        color: colour(mark.ink), thickness: 1.5, width: 3.5,
      };
      return {
        type: "scatter", mode: "markers",
        x: mark.sideways ? mark.middle : at, y: mark.sideways ? at : mark.middle,
        [mark.sideways ? "error_x" : "error_y"]: bar,
        marker: { symbol: SYMBOLS[mark.shape], size: 8, color: colour(mark.ink) },
      };
    },
    band(mark, panel, chart) {
      const at = mark.x.map(placeOn(chart.x));
      return {
        type: "scatter", mode: "lines", fill: "toself", hoverinfo: "skip",
        x: [...at, ...at.slice().reverse()], y: [...mark.high, ...mark.low.slice().reverse()],
        fillcolor: faded(mark.ink, 0.2), line: { width: 0 },
      };
    },
    cells(mark, panel, chart) {
      const roomy = chart.width / Math.max(chart.x.at.length, 1) > 20;
      return {
        type: "bar", x: mark.column, y: mark.row.map(() => 1), base: mark.row.map((row) => row - 0.5),
        width: 0.94,
        marker: { color: mark.share.map((share) => faded("cell", share)), line: { width: 0 } },
        ...(mark.shown && roomy && {
          text: mark.shown, texttemplate: "%{text}", textposition: "inside", insidetextanchor: "middle",
          textangle: 0, constraintext: "none",
          insidetextfont: {
            size: 12,
            color: mark.share.map((share) => colour(share >= DARK_CELL ? "cell-high" : "cell-low")),
          },
        }),
      };
    },
  };

  function wordsOf(mark, panel, chart) {
    if (mark.words) return mark.words;
    const start = mark.name ? `${mark.name}: ` : "";
    const across = chart.x;
    const up = panel.y;
    if (mark.kind === "dots" || mark.kind === "line") {
      return mark.x.map((x, place) => (x === null || mark.y[place] === null ? ""
        : `${start}${toldPlace(across, x)}, ${toldPlace(up, mark.y[place])}`));
    }
    if (mark.kind === "bars") {
      const [place, length] = mark.sideways ? [up, across] : [across, up];
      return mark.at.map((at, n) => `${start}${toldPlace(place, at)}, ${toldPlace(length, mark.length[n])}`);
    }
    if (mark.kind === "spread") {
      const [place, along] = mark.sideways ? [up, across] : [across, up];
      return mark.at.map(function (at, n) {
        if (mark.middle[n] === null) return "";
        const ends = mark.low[n] === null || mark.high[n] === null ? ""
          : ` (${toldPlace(along, mark.low[n])} to ${toldPlace(along, mark.high[n])})`;
        return `${start}${toldPlace(place, at)}, ${toldPlace(along, mark.middle[n])}${ends}`;
      });
    }
    return mark.row.map((row, n) => `${panel.y.words[row]}, ${chart.x.words[mark.column[n]]}`);
  }

  // The touchable dots of a mark, from left to right (or in the order of a grid).
  function seriesOf(mark, trace, panel, chart, subplot) {
    const words = wordsOf(mark, panel, chart);
    const upright = mark.sideways || mark.kind === "cells";
    const order = words.map((_, place) => place).filter((place) => words[place] !== "" &&
      trace.x[place] !== null && trace.y[place] !== null);
    if (!upright) order.sort((one, other) => trace.x[one] - trace.x[other]);
    return { words, links: mark.links || [], order, subplot, x: trace.x };
  }

  function tracesOf(chart) {
    const traces = [];
    const series = [];
    const marks = chart.panels.flatMap((panel, place) => panel.marks.map((mark) => [mark, panel, place]));
    const dotted = marks.some(([mark]) => ["dots", "bars", "spread", "cells"].includes(mark.kind));
    marks.forEach(function ([mark, panel, place]) {
      if (!MAKERS[mark.kind]) return;
      const yaxis = place ? `y${place + 1}` : "y";
      const trace = { ...MAKERS[mark.kind](mark, panel, chart), xaxis: "x", yaxis };
      const touched = mark.kind !== "band" && (mark.kind !== "line" || !dotted);
      if (touched) {
        const each = seriesOf(mark, trace, panel, chart, `x${yaxis}`);
        each.curve = traces.length;
        series.push(each);
        delete trace.hoverinfo;
        trace.hovertext = each.words.map((words) => folded(words, narrow.matches ? 30 : 48));
        trace.hovertemplate = "%{hovertext}<extra></extra>";
      }
      traces.push(trace);
    });
    return { traces, series };
  }

  /* ---- axes, levels and moments ---- */

  function namedDown(axis, room) {
    const kept = thinned(axis, room / LINE_PX);
    const signs = axis.kind !== "category" ? 99 : narrow.matches ? 14 : 34;
    return { tickvals: kept.at, ticktext: kept.words.map((words) => safe(shortened(words, signs))) };
  }

  // Words below a chart: level where they fit, else in lines, else slanted.
  function namedAcross(axis, room) {
    const longest = Math.max(2, ...axis.words.map((words) => words.length));
    const level = room / (longest * SIGN_PX + 8);
    const calendar = axis.at.length > 26 && longest <= 7;
    if (axis.kind !== "category" || axis.at.length <= level || longest <= 4 || calendar) {
      const kept = thinned(axis, level);
      return { tickvals: kept.at, ticktext: kept.words.map(safe), tickangle: 0 };
    }
    const signs = Math.floor((room / axis.at.length - 6) / SIGN_PX);
    const word = Math.max(...axis.words.flatMap((words) => words.split(" ")).map((each) => each.length));
    if (word <= signs && longest <= 4 * signs) {
      return { tickvals: axis.at, ticktext: axis.words.map((words) => folded(words, signs)), tickangle: 0 };
    }
    const kept = thinned(axis, room / LINE_PX);
    const most = narrow.matches ? 14 : 24;
    return { tickvals: kept.at, ticktext: kept.words.map((words) => safe(shortened(words, most))), tickangle: -35 };
  }

  function axisOf(axis, room, across) {
    const made = {
      gridcolor: colour("grid"), linecolor: colour("line"), showline: true, zeroline: false,
      showgrid: axis.kind !== "category", tickfont: { color: colour("ink") }, automargin: true,
      range: axis.ends.map(placeOn(axis)),
    };
    if (axis.kind === "time") {
      made.type = "date";
      made.nticks = Math.max(3, Math.floor(room / 48));
      made.tickformatstops = [
        { dtickrange: [null, 43200000], value: "%H:%M\n%-d %b" },
        { dtickrange: [43200000, "M1"], value: "%-d %b\n%Y" },
        { dtickrange: ["M1", "M12"], value: "%b\n%Y" },
        { dtickrange: ["M12", null], value: "%Y" },
      ];
      return made;
    }
    made.type = "linear";
    if (axis.kind === "category" && !across) made.range.reverse();
    if (axis.at.length) {
      made.tickmode = "array";
      const named = across ? namedAcross(axis, room) : namedDown(axis, room);
      Object.assign(made, named);
    } else {
      made.nticks = Math.max(3, Math.floor(room / (across ? 70 : 30)));
    }
    return made;
  }

  function momentRows(panel, chart, width) {
    const ends = Array(MOMENT_ROWS).fill(-1);
    const [low, high] = chart.x.ends;
    const placed = [];
    panel.marks.filter((mark) => mark.kind === "moment" && mark.words)
      .sort((one, other) => one.x - other.x)
      .forEach(function (mark) {
        const at = ((mark.x - low) / (high - low)) * width;
        if (at < -1 || at > width + 1) return;
        const long = mark.words.length * SIGN_PX;
        const right = at + long > width;
        const begin = right ? at - long : at;
        const row = ends.findIndex((end) => begin > end);
        if (row < 0 || begin < -20) return;
        ends[row] = begin + long + 6;
        placed.push({ mark, row, anchor: right ? "right" : "left" });
      });
    return placed;
  }

  function addLevels(layout, panel, yaxis, high, ends) {
    const levels = panel.marks.filter((mark) => mark.kind === "level").sort((one, other) => other.y - one.y);
    let used = -2;
    levels.forEach(function (mark) {
      layout.shapes.push({
        type: "line", xref: "x domain", yref: yaxis, x0: 0, x1: 1, y0: mark.y, y1: mark.y,
        line: { color: colour(mark.ink), width: 1.25, dash: DASHES[mark.dash] },
      });
      if (!mark.words || mark.y < ends[0] || mark.y > ends[1]) return;
      // Above its line, or below where there is no room.
      const line = (1 - (mark.y - ends[0]) / (ends[1] - ends[0])) * high;
      let top = line - 1 - LINE_PX;
      if (top < used) top = Math.max(line + 2, used);
      used = top + LINE_PX - 2;
      layout.annotations.push({
        text: safe(mark.words), xref: "x domain", yref: yaxis, x: 1, y: mark.y, xanchor: "right",
        yanchor: "top", yshift: line - top, showarrow: false, borderpad: 0,
        font: { size: 12, color: colour("ink") }, bgcolor: faded("sheet", 0.75),
      });
    });
  }

  function addMoments(layout, panel, yaxis, placed, chart) {
    const at = placeOn(chart.x);
    panel.marks.filter((mark) => mark.kind === "moment").forEach(function (mark) {
      layout.shapes.push({
        type: "line", xref: "x", yref: `${yaxis} domain`, x0: at(mark.x), x1: at(mark.x), y0: 0, y1: 1,
        line: { color: colour(mark.ink), width: 1.25, dash: DASHES[mark.dash] },
      });
    });
    placed.forEach(function ({ mark, row, anchor }) {
      layout.annotations.push({
        text: safe(mark.words), xref: "x", yref: `${yaxis} domain`, x: at(mark.x), y: 1,
        xanchor: anchor, yanchor: "bottom", yshift: 1 + row * LINE_PX, showarrow: false, borderpad: 0,
        font: { size: 12, color: colour("ink") },
      });
    });
  }

  function layoutOf(chart, width) {
    const margin = { l: 34, r: 10, t: 4, b: chart.x.title ? 46 : 34, pad: 0 };
    const inner = Math.max(width - margin.l - margin.r - 24, 160);
    const moments = chart.panels.map((panel) => momentRows(panel, chart, inner));
    const heads = chart.panels.map(function (panel, place) {
      const rows = 1 + Math.max(-1, ...moments[place].map((each) => each.row));
      return (panel.title || panel.y.title ? LINE_PX + 5 : 6) + rows * LINE_PX;
    });
    const gap = 12;
    const all = chart.height - margin.t - margin.b;
    const free = all - heads.reduce((sum, head) => sum + head, 0) - gap * (heads.length - 1);
    const shares = chart.panels.reduce((sum, panel) => sum + panel.height, 0);
    const count = chart.panels.length;
    const layout = {
      height: chart.height, margin, paper_bgcolor: colour("sheet"), plot_bgcolor: colour("sheet"),
      font: { family: "system-ui, Liberation Sans, sans-serif", size: 13, color: colour("ink") },
      showlegend: false, hovermode: "closest", hoverdistance: 24, barmode: "overlay",
      // A finger that scrolls the page does not move the chart.
      dragmode: coarse.matches ? false : "zoom",
      hoverlabel: {
        bgcolor: colour("sheet"), bordercolor: colour("line"), align: "left",
        font: { color: colour("ink"), size: 13, family: "system-ui, Liberation Sans, sans-serif" },
      },
      xaxis: {
        ...axisOf(chart.x, inner, true), anchor: `y${count > 1 ? count : ""}`,
        ...(chart.x.title && { title: { text: safe(chart.x.title), standoff: 6, font: { color: colour("soft"), size: 13 } } }),
      },
      shapes: [], annotations: [],
    };
    if (chart.x.kind === "category") layout.xaxis.fixedrange = true;
    let top = 0;
    chart.panels.forEach(function (panel, place) {
      const yaxis = place ? `y${place + 1}` : "y";
      const high = Math.max((free * panel.height) / shares, 24);
      const begin = top + heads[place];
      layout[place ? `yaxis${place + 1}` : "yaxis"] = {
        ...axisOf(panel.y, high, false), fixedrange: true,
        domain: [Math.max(0, 1 - (begin + high) / all), 1 - begin / all],
      };
      const most = Math.floor(inner / SIGN_PX);
      const title = [panel.title, panel.y.title].filter(Boolean).join(", ");
      if (title) {
        layout.annotations.push({
          text: safe(shortened(title, most)), xref: "paper", yref: "paper", x: 0, y: 1 - top / all, xanchor: "left", xshift: -8,
          yanchor: "top", showarrow: false, borderpad: 0,
          // By its own name: words in bold by a tag would be an inline style.
          font: { size: 13, color: colour(panel.title ? "ink" : "soft"), weight: panel.title ? "bold" : "normal" },
        });
      }
      addLevels(layout, panel, yaxis, high, panel.y.ends);
      addMoments(layout, panel, yaxis, moments[place], chart);
      top = begin + high + gap;
    });
    return layout;
  }

  /* ---- touching, telling, going there ---- */

  class Reader {
    constructor(shown) {
      this.shown = shown;
      this.at = null;
    }

    get series() { return this.shown.series.filter((each) => each.order.length); }

    // By keys: along a series, or to the next series at about the same place.
    move(key) {
      const every = this.series;
      if (!every.length) return;
      let [which, place] = this.at || [0, -1];
      which = Math.min(which, every.length - 1);
      const last = every[which].order.length - 1;
      if (key === "ArrowRight") place = Math.min(place + 1, last);
      else if (key === "ArrowLeft") place = place < 0 ? last : Math.max(place - 1, 0);
      else if (key === "Home") place = 0;
      else if (key === "End") place = last;
      else {
        const from = every[which];
        const x = place < 0 ? null : from.x[from.order[place]];
        which = Math.min(Math.max(which + (key === "ArrowDown" ? 1 : -1), 0), every.length - 1);
        place = x === null ? 0 : this.nearest(every[which], x, place);
      }
      this.at = [which, place];
      this.tell(every[which], every[which].order[place], true);
    }

    nearest(series, x, place) {
      let best = Math.min(place, series.order.length - 1);
      series.order.forEach(function (point, n) {
        if (Math.abs(series.x[point] - x) < Math.abs(series.x[series.order[best]] - x)) best = n;
      });
      return best;
    }

    touched(point) {
      const every = this.series;
      const which = every.findIndex((each) => each.curve === point.curveNumber);
      if (which < 0) return;
      const place = every[which].order.indexOf(point.pointNumber);
      this.at = [which, place];
      const link = every[which].links[point.pointNumber];
      if (link && !coarse.matches) window.location.assign(link);
      else this.tell(every[which], point.pointNumber, false);
    }

    tell(series, point, byKey) {
      const told = this.shown.told;
      told.classList.add("told");
      const words = document.createElement("span");
      words.textContent = series.words[point];
      told.replaceChildren(words);
      this.link = series.links[point] || "";
      if (this.link) {
        const way = document.createElement("a");
        way.href = this.link;
        way.className = "button quiet";
        way.textContent = "Open";
        told.append(way);
      }
      if (byKey) {
        this.into(series.x[point]);
        window.Plotly.Fx.hover(
          this.shown.node, [{ curveNumber: series.curve, pointNumber: point }], [series.subplot],
        );
      }
    }

    // A dot outside what is shown is brought into it.
    into(x) {
      if (this.shown.chart.x.kind === "category" || typeof x !== "number") return;
      const [low, high] = this.shown.range();
      if (x >= low && x <= high) return;
      const half = (high - low) / 2;
      this.shown.show([x - half, x + half]);
    }

    follow() {
      if (this.link) window.location.assign(this.link);
    }
  }

  class Shown {
    constructor(figure) {
      this.figure = figure;
      this.chart = JSON.parse(document.getElementById(figure.dataset.figure).textContent);
      this.series = [];
      this.drawing = figure.querySelector(".figure-drawing");
      this.node = document.createElement("div");
      this.node.className = "figure-chart";
      this.node.tabIndex = 0;
      this.node.setAttribute("role", "application");
      this.node.setAttribute("aria-roledescription", "chart");
      this.node.setAttribute("aria-labelledby", `${figure.id}-caption`);
      this.told = document.createElement("p");
      this.told.className = "figure-told";
      this.told.id = `${figure.id}-told`;
      this.told.setAttribute("aria-live", "polite");
      this.node.setAttribute("aria-describedby", `${figure.id}-says ${this.told.id}`);
      this.told.textContent = "Touch a dot to read it. On a keyboard: arrow keys, then Enter to open it.";
      this.reader = new Reader(this);
    }

    begin() {
      this.drawing.before(this.node);
      this.node.after(this.told);
      this.drawing.hidden = true;
      return this.draw().then(() => {
        this.node.on("plotly_click", (event) => this.reader.touched(event.points[0]));
        this.node.addEventListener("keydown", (event) => this.key(event));
        if (!this.series.some((each) => each.order.length)) this.told.hidden = true;
        this.addTools();
        this.figure.dataset.drawn = "yes";
        [dark, narrow].forEach((query) => query.addEventListener("change", () => this.draw()));
        let width = this.node.clientWidth;
        new ResizeObserver(() => {
          if (this.node.clientWidth && this.node.clientWidth !== width) {
            width = this.node.clientWidth;
            this.draw();
          }
        }).observe(this.node);
      });
    }

    draw() {
      this.chart.width = this.node.clientWidth;
      const { traces, series } = tracesOf(this.chart);
      this.series = series;
      const layout = layoutOf(this.chart, this.node.clientWidth);
      layout.width = this.node.clientWidth;
      return window.Plotly.react(this.node, traces, layout, {
        displayModeBar: false, responsive: false, doubleClick: "reset", scrollZoom: false,
      });
    }

    key(event) {
      if (event.target !== this.node || event.altKey || event.ctrlKey || event.metaKey) return;
      if (["ArrowRight", "ArrowLeft", "ArrowUp", "ArrowDown", "Home", "End"].includes(event.key)) {
        event.preventDefault();
        this.reader.move(event.key);
      } else if (event.key === "Enter") {
        this.reader.follow();
      } else if (event.key === "Escape") {
        window.Plotly.Fx.unhover(this.node);
      }
    }

    range() {
      return this.node.layout.xaxis.range.map((end) =>
        typeof end === "number" ? end : Date.parse(`${String(end).replace(" ", "T")}Z`));
    }

    show(range) {
      return window.Plotly.relayout(this.node, { "xaxis.range": range });
    }

    addTools() {
      const most = Math.max(0, ...this.series.map((each) => each.order.length));
      if (this.chart.x.kind !== "time" || most <= MANY) return;
      const tools = document.createElement("div");
      tools.className = "figure-tools";
      tools.setAttribute("role", "group");
      tools.setAttribute("aria-label", `What is shown of ${this.chart.caption}`);
      const add = function (words, work) {
        const button = document.createElement("button");
        button.type = "button";
        button.textContent = words;
        button.addEventListener("click", work);
        tools.append(button);
      };
      const shift = (share) => () => {
        const [low, high] = this.range();
        this.show([low + (high - low) * share, high + (high - low) * share]);
      };
      const zoom = (factor) => () => {
        const [low, high] = this.range();
        const half = ((high - low) / 2) * factor;
        this.show([(low + high) / 2 - half, (low + high) / 2 + half]);
      };
      add("All", () => this.show(this.chart.x.ends.map(placeOn(this.chart.x))));
      add("Earlier", shift(-0.5));
      add("Later", shift(0.5));
      add("Closer", zoom(0.5));
      add("Wider", zoom(2));
      this.node.before(tools);
    }
  }

  // One after the other, so that the page answers meanwhile.
  function drawAll(figures) {
    if (!figures.length) return;
    new Shown(figures[0]).begin().then(() => setTimeout(() => drawAll(figures.slice(1)), 0));
  }

  if (window.Plotly) drawAll([...document.querySelectorAll("[data-figure]")]);
})();
