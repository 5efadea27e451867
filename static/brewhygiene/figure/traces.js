/* A figure's marks as plotly's traces, and the series of dots that can be read one by one. */
(function (figures) {
  "use strict";

  const SYMBOLS = {
    disc: "circle", ring: "circle-open", square: "square", diamond: "diamond",
    up: "triangle-up", down: "triangle-down", cross: "x-thin", plus: "cross-thin",
  };
  const DARK_CELL = 0.72;
  const { PALE, DASHES, narrow, colour, faded, folded, placeOn, placeWords } = figures;

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
        : `${start}${placeWords(across, x)}, ${placeWords(up, mark.y[place])}`));
    }
    if (mark.kind === "bars") {
      const [place, length] = mark.sideways ? [up, across] : [across, up];
      return mark.at.map((at, n) => `${start}${placeWords(place, at)}, ${placeWords(length, mark.length[n])}`);
    }
    if (mark.kind === "spread") {
      const [place, along] = mark.sideways ? [up, across] : [across, up];
      return mark.at.map(function (at, n) {
        if (mark.middle[n] === null) return "";
        const ends = mark.low[n] === null || mark.high[n] === null ? ""
          : ` (${placeWords(along, mark.low[n])} to ${placeWords(along, mark.high[n])})`;
        return `${start}${placeWords(place, at)}, ${placeWords(along, mark.middle[n])}${ends}`;
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

  figures.tracesOf = tracesOf;
})(window.figures ||= {});
