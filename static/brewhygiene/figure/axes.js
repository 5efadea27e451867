/* A figure's axes, levels and moments as plotly's layout: no words run into each other. */
(function (figures) {
  "use strict";

  const LINE_PX = 17;
  const SIGN_PX = 7;
  const MOMENT_ROWS = 3;
  const { DASHES, coarse, narrow, colour, faded, safe, folded, shortened, thinned, placeOn, AXIS_TIMES, SEPARATORS } = figures;
  const sans = getComputedStyle(document.documentElement).fontFamily;

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
        { dtickrange: [null, 43200000], value: AXIS_TIMES[0] },
        { dtickrange: [43200000, "M1"], value: AXIS_TIMES[1] },
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
      separators: SEPARATORS,
      height: chart.height, margin, paper_bgcolor: colour("sheet"), plot_bgcolor: colour("sheet"),
      font: { family: sans, size: 13, color: colour("ink") },
      showlegend: false, hovermode: "closest", hoverdistance: 24, barmode: "overlay",
      // A finger that scrolls the page does not move the chart.
      dragmode: coarse.matches ? false : "zoom",
      hoverlabel: {
        bgcolor: colour("sheet"), bordercolor: colour("line"), align: "left",
        font: { color: colour("ink"), size: 13, family: sans },
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

  figures.layoutOf = layoutOf;
})(window.figures ||= {});
