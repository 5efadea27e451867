/* The house's one script: timers, the number pad, the tablet's clock, one send per form.
   Every page works without it. */
(function () {
  "use strict";

  // How far this tablet's clock is behind the server's, from the page itself.
  function serverOffset(node) {
    const now = node.dataset.now;
    return now ? Date.parse(now) - performance.timeOrigin : 0;
  }

  function clockText(seconds) {
    const total = Math.max(0, Math.floor(seconds));
    const hours = Math.floor(total / 3600);
    const minutes = Math.floor((total % 3600) / 60);
    const rest = String(total % 60).padStart(2, "0");
    return hours ? `${hours}:${String(minutes).padStart(2, "0")}:${rest}` : `${minutes}:${rest}`;
  }

  // <span data-timer data-started="ISO" data-now="ISO" data-before-s="0"></span>
  function tick() {
    document.querySelectorAll("[data-timer]").forEach(function (node) {
      if (node.timerOffset === undefined) node.timerOffset = serverOffset(node);
      const now = Date.now() + node.timerOffset;
      const before = Number(node.dataset.beforeS || 0);
      node.textContent = clockText((now - Date.parse(node.dataset.started)) / 1000 + before);
    });
  }

  function addPad(input) {
    if (input.dataset.padded) return;
    input.dataset.padded = "yes";
    const form = input.closest("form");
    let pad = form.querySelector(".pad");
    if (!pad) {
      pad = document.createElement("div");
      pad.className = "pad";
      pad.setAttribute("role", "group");
      pad.setAttribute("aria-label", "Number pad");
      ["7", "8", "9", "4", "5", "6", "1", "2", "3", ".", "0", "⌫"].forEach(function (sign) {
        const key = document.createElement("button");
        key.type = "button";
        key.textContent = sign;
        key.dataset.sign = sign;
        if (sign === "⌫") key.setAttribute("aria-label", "Delete last");
        if (sign === ".") key.setAttribute("aria-label", "Decimal point");
        pad.appendChild(key);
      });
      pad.addEventListener("click", function (event) {
        const key = event.target.closest("button");
        const target = pad.target;
        if (!key || !target) return;
        const sign = key.dataset.sign;
        if (sign === "⌫") target.value = target.value.slice(0, -1);
        else if (sign !== "." || (target.dataset.pad === "decimal" && !/[.,]/.test(target.value))) {
          target.value += sign;
        }
        target.dispatchEvent(new Event("input", { bubbles: true }));
      });
      input.closest(".field").after(pad);
      pad.target = input;
    }
    // The tablet's own keyboard would cover half of the screen.
    input.inputMode = "none";
    input.addEventListener("focus", function () {
      pad.target = input;
      input.closest(".field").after(pad);
    });
  }

  function prepare(root) {
    root.querySelectorAll("input[data-pad]").forEach(addPad);
  }

  document.addEventListener("submit", function (event) {
    const form = event.target;
    form.querySelectorAll("[data-client-time]").forEach(function (field) {
      field.value = new Date().toISOString();
    });
    if (form.method === "post") {
      if (form.dataset.sent) {
        event.preventDefault();
        return;
      }
      form.dataset.sent = "yes";
    }
  });
  // A page brought back by the back button may be sent again; its key keeps it from counting twice.
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form[data-sent]").forEach(function (form) {
      delete form.dataset.sent;
    });
  });
  document.addEventListener("htmx:afterRequest", function (event) {
    const form = event.target.closest && event.target.closest("form[data-sent]");
    if (form) delete form.dataset.sent;
  });
  document.addEventListener("htmx:afterSwap", function (event) {
    prepare(event.target);
    tick();
  });

  prepare(document);
  tick();
  setInterval(tick, 1000);
})();
