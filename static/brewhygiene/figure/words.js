/* What all parts of a chart share: the page's colours, and words in the room that they have. */
(function (figures) {
  "use strict";

  const PALE = ["sky", "orange", "purple", "yellow"];
  const DASHES = { solid: "solid", dash: "6px,4px", dot: "1.5px,3px" };

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
  function placeWords(axis, value) {
    if (axis.kind === "time") {
      return window.written.moment(value * 1000, "UTC", { day: true, year: true, time: true });
    }
    const named = axis.at.indexOf(value);
    if (named >= 0) return axis.words[named];
    return window.written.number(Number(value.toPrecision(4)));
  }

  // How plotly writes times on an axis, and its signs of decimals and thousands.
  const AXIS_TIMES = {
    day_first: ["%H:%M\n%-d %b", "%-d %b\n%Y"],
    month_first: ["%-I:%M %p\n%b %-d", "%b %-d\n%Y"],
    iso: ["%H:%M\n%Y-%m-%d", "%Y-%m-%d"],
  }[window.written.dates];
  const SEPARATORS = window.written.decimal === "," ? ",\u202f" : ".,";

  Object.assign(figures, { PALE, DASHES, AXIS_TIMES, SEPARATORS, coarse, narrow, dark, colour, faded, safe, folded, shortened, thinned, placeOn, placeWords });
})(window.figures ||= {});
