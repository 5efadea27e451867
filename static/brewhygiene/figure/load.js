/* The server's drawing of a figure stands first. When it is first touched or focused, plotly and
   what draws with it are loaded, and a chart that can be read dot by dot takes its place. The page
   stands without any of it: the drawing and the table say the same. */
(function () {
  "use strict";

  const addresses = document.currentScript.dataset.parts.split(" ");
  const coarse = window.matchMedia("(pointer: coarse)");
  let loading = null;

  function added(address) {
    return new Promise(function (done, failed) {
      const script = document.createElement("script");
      script.src = address;
      script.async = false;
      script.onload = done;
      script.onerror = failed;
      document.head.append(script);
    });
  }

  function begin(figure) {
    if (figure.dataset.begun) return;
    figure.dataset.begun = "yes";
    loading ||= Promise.all(addresses.map(added));
    loading.then(() => window.figures.draw(figure), function () {
      // The drawing stays, and the next touch tries again.
      loading = null;
      delete figure.dataset.begun;
    });
  }

  document.querySelectorAll("[data-figure]").forEach(function (figure) {
    const drawing = figure.querySelector(".figure-drawing");
    ["pointerenter", "pointerdown", "focusin"].forEach(function (kind) {
      drawing.addEventListener(kind, () => begin(figure), { passive: true });
    });
    // A finger that asks for the chart does not follow the dot below it.
    drawing.addEventListener("click", (event) => { if (coarse.matches) event.preventDefault(); });
  });
})();
