/* The house's one script: timers, the number pad, the tablet's clock, one send per form, and what
   to say when the network fails. Every page works without it. */
(function () {
  "use strict";

  // How far this tablet's clock is behind the server's. What came with the page was written when
  // it was asked for; what is swapped in later was written just now.
  let cameAt = Date.now() - performance.now();
  function serverOffset(node) {
    const now = node.dataset.now;
    return now ? Date.parse(now) - cameAt : 0;
  }

  // How numbers and moments are written for whoever looks: the server marks the page where it is
  // another way than the plain one.
  const marks = document.documentElement.dataset;
  window.written = {
    decimal: marks.decimal || ".",
    dates: marks.dates || "day_first",
    // Digits as the machine writes them.
    number(text) { return String(text).replace(".", this.decimal); },
    // As "17 Jun 2026, 14:05" in a zone, as much of it as is asked for.
    moment(ms, zone, asked) {
      const parts = { timeZone: zone || undefined };
      const iso = this.dates === "iso";
      if (asked.day) Object.assign(parts, { day: iso ? "2-digit" : "numeric", month: iso ? "2-digit" : "short" });
      if (asked.year || (asked.day && iso)) parts.year = "numeric";
      if (asked.time) Object.assign(parts, { hour: this.dates === "month_first" ? "numeric" : "2-digit", minute: "2-digit" });
      const tongue = { day_first: "en-GB", month_first: "en-US", iso: "sv-SE" }[this.dates];
      return new Intl.DateTimeFormat(tongue, parts).format(ms);
    },
  };

  function clockText(seconds) {
    const total = Math.max(0, Math.floor(seconds));
    const hours = Math.floor(total / 3600);
    const minutes = Math.floor((total % 3600) / 60);
    const rest = String(total % 60).padStart(2, "0");
    return hours ? `${hours}:${String(minutes).padStart(2, "0")}:${rest}` : `${minutes}:${rest}`;
  }

  function secondsRun(node) {
    if (node.timerOffset === undefined) node.timerOffset = serverOffset(node);
    const now = Date.now() + node.timerOffset;
    return (now - Date.parse(node.dataset.started)) / 1000 + Number(node.dataset.beforeS || 0);
  }

  // What is left to the next bound of the step's time: data-minimum-s, data-target-s, data-maximum-s.
  function leftText(node, seconds) {
    const bound = (name) => (node.dataset[name] ? Number(node.dataset[name]) : null);
    const minimum = bound("minimumS");
    const target = bound("targetS");
    const maximum = bound("maximumS");
    // Up, so that the clock and what is left to its bound add up on the screen.
    const left = (goal) => clockText(Math.ceil(goal - Math.floor(seconds)));
    if (minimum !== null && seconds < minimum) return `${left(minimum)} until the minimum`;
    if (target !== null && seconds < target) return `${left(target)} until the target`;
    if (maximum === null) return "Time reached";
    // Contact time counts to the minimum and the target; a maximum is of the timer, which is ahead.
    const run = seconds + Number(node.dataset.aheadS || 0);
    if (run <= maximum) {
      return `Time reached, ${clockText(Math.ceil(maximum - Math.floor(run)))} until the maximum`;
    }
    return `${clockText(run - maximum)} over the maximum`;
  }

  // <span data-timer data-started="ISO" data-now="ISO" data-before-s="0"></span>
  function tick() {
    document.querySelectorAll("[data-timer]").forEach(function (node) {
      node.textContent = clockText(secondsRun(node));
    });
    document.querySelectorAll("[data-left]").forEach(function (node) {
      const seconds = secondsRun(node);
      const words = leftText(node, seconds);
      if (node.textContent !== words) node.textContent = words;
      node.dispatchEvent(new CustomEvent("ran", { bubbles: true, detail: seconds }));
    });
  }

  // <button data-countdown="15" hidden>: counts down in its own words, as the meter does.
  function prepareCountdown(button) {
    if (button.dataset.ready) return;
    button.dataset.ready = "yes";
    button.hidden = false;
    const words = button.textContent;
    let running = null;
    button.addEventListener("click", function () {
      clearInterval(running);
      const end = Date.now() + Number(button.dataset.countdown) * 1000;
      const show = function () {
        const left = Math.ceil((end - Date.now()) / 1000);
        button.textContent = left > 0 ? `${left} s` : button.dataset.over;
        if (left > 0) return;
        clearInterval(running);
        if (navigator.vibrate) navigator.vibrate(300);
        setTimeout(function () { button.textContent = words; }, 5000);
      };
      show();
      running = setInterval(show, 250);
    });
  }

  function aim(pad, input) {
    pad.target = input;
    // Whole numbers have no point.
    pad.querySelector("[data-sign='.']").disabled = input.dataset.pad === "count";
    if (input.closest(".field").nextElementSibling !== pad) input.closest(".field").after(pad);
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
        key.textContent = window.written.number(sign);
        key.dataset.sign = sign;
        if (sign === "⌫") key.setAttribute("aria-label", "Delete last");
        if (sign === ".") key.setAttribute("aria-label", window.written.decimal === "," ? "Decimal comma" : "Decimal point");
        pad.appendChild(key);
      });
      pad.addEventListener("click", function (event) {
        const key = event.target.closest("button");
        const target = pad.target;
        if (!key || !target) return;
        const sign = key.dataset.sign;
        if (sign === "⌫") target.value = target.value.slice(0, -1);
        else if (sign !== "." || (target.dataset.pad === "decimal" && !/[.,]/.test(target.value))) {
          target.value += window.written.number(sign);
        }
        target.dispatchEvent(new Event("input", { bubbles: true }));
      });
      aim(pad, input);
    }
    // The tablet's own keyboard would cover half of the screen.
    input.inputMode = "none";
    input.addEventListener("focus", function () { aim(pad, input); });
  }

  // <button data-print hidden>: the browser's own print, for a screen without its menu.
  function preparePrint(button) {
    if (button.dataset.ready) return;
    button.dataset.ready = "yes";
    button.hidden = false;
    button.addEventListener("click", function () { window.print(); });
  }

  function prepare(root) {
    root.querySelectorAll("button[data-print]").forEach(preparePrint);
    root.querySelectorAll("input[data-pad]").forEach(addPad);
    root.querySelectorAll("button[data-countdown]").forEach(prepareCountdown);
  }

  // Beside the form that was not answered; what was typed stays in it.
  function sayUnanswered(node, words) {
    const form = node.closest && node.closest("form");
    if (!form) return;
    say(
      form,
      words ||
        "No answer from the server. What you typed is still here; send it again. " +
          "It will not count twice.",
    );
  }

  function say(form, text) {
    let words = form.querySelector(".unanswered");
    if (!words) {
      words = document.createElement("p");
      words.className = "errors unanswered";
      words.setAttribute("role", "alert");
      form.prepend(words);
    }
    if (words.textContent === text) return;
    words.textContent = text;
    words.scrollIntoView({ block: "nearest" });
  }

  // Whether the server can be reached: by a small file of its own, past every cache.
  const REACH_MS = 4000;
  const AGAIN_MS = 3000;
  const LISTEN_MS = 10000;
  function reachable() {
    return fetch(document.querySelector("link[rel=icon]").href, {
      method: "HEAD",
      cache: "no-store",
      signal: AbortSignal.timeout(REACH_MS),
    }).then((answer) => answer.ok, () => false);
  }

  const home = window.brewhygiene || (window.brewhygiene = {});
  home.reachable = reachable;

  // A page that came was answered; one with a form of a verb in sight asks again now and then, and
  // when the tablet wakes.
  let answers = true;
  function listen() {
    if (document.hidden || !document.querySelector("form[method=post] [name=key]")) return;
    reachable().then(function (is) { answers = is; });
  }
  setInterval(listen, LISTEN_MS);
  document.addEventListener("visibilitychange", listen);
  window.addEventListener("online", listen);

  // A form that makes a whole page would be lost with the browser's own page of a dead network.
  // While the server does not answer, the form waits here and is sent by itself as soon as it
  // does, with whatever then stands in it.
  function sendOnceReachable(form, submitter) {
    if (!form.isConnected) return;
    reachable().then(function (is) {
      answers = is;
      if (is) {
        form.dataset.reached = "yes";
        delete form.dataset.sent;
        form.requestSubmit(submitter);
        return;
      }
      say(
        form,
        "No answer from the server. What you typed stays here and is sent by itself as soon as " +
          "the server answers. Leave this page open. It will not count twice.",
      );
      setTimeout(sendOnceReachable, AGAIN_MS, form, submitter);
    });
  }

  // Forms of a verb carry a key; those that htmx sends say so themselves when it fails.
  function waitsForServer(form) {
    if (form.dataset.reached || form.dataset.hxPost || !form.elements.namedItem("key")) return false;
    return !(answers && navigator.onLine);
  }

  // The second tap of a double one belongs to what the first one touched, not to a button that came
  // under the finger meanwhile. Fast taps beside each other count as double ones too: keys of a pad
  // and ticks that were there already take them.
  let firstTapAt = -1;
  let cameInAt = 0;
  document.addEventListener("htmx:afterSwap", function (event) { cameInAt = event.timeStamp; });
  document.addEventListener(
    "click",
    function (event) {
      if (event.detail <= 1) {
        firstTapAt = event.timeStamp;
      } else if (firstTapAt < cameInAt && event.target.closest("button:not([type=button]), a.button")) {
        event.preventDefault();
        event.stopImmediatePropagation();
      }
    },
    true,
  );
  // Before anything else hears of it, so that a second tap sends nothing.
  document.addEventListener(
    "submit",
    function (event) {
      const form = event.target;
      // When it was tapped, however long it then had to wait.
      if (!form.dataset.reached) {
        form.querySelectorAll("[data-client-time]").forEach(function (field) {
          field.value = new Date().toISOString();
        });
      }
      if (form.getAttribute("method") === "post") {
        if (form.dataset.sent) {
          event.preventDefault();
          event.stopImmediatePropagation();
          return;
        }
        form.dataset.sent = "yes";
      }
    },
    true,
  );
  // After everything else heard of it: what a page's own script refuses need not be asked for.
  document.addEventListener("submit", function (event) {
    const form = event.target;
    if (event.defaultPrevented || form.getAttribute("method") !== "post") return;
    if (!waitsForServer(form)) return;
    event.preventDefault();
    sendOnceReachable(form, event.submitter);
  });
  // A page brought back by the back button may be sent again; its key keeps it from counting twice.
  window.addEventListener("pageshow", function () {
    document.querySelectorAll("form[data-sent]").forEach(function (form) {
      delete form.dataset.sent;
      delete form.dataset.reached;
    });
  });
  document.addEventListener("htmx:afterRequest", function (event) {
    const form = event.target.closest && event.target.closest("form[data-sent]");
    if (form) delete form.dataset.sent;
  });
  // A whole page where a piece of one was asked for: signed out since. Let the page say so.
  document.addEventListener("htmx:beforeSwap", function (event) {
    if (/^\s*<!doctype/i.test(event.detail.xhr.responseText)) {
      event.detail.shouldSwap = false;
      window.location.reload();
    }
  });
  document.addEventListener("htmx:sendError", function (event) { sayUnanswered(event.target); });
  document.addEventListener("htmx:timeout", function (event) { sayUnanswered(event.target); });
  document.addEventListener("htmx:responseError", function (event) {
    const xhr = event.detail.xhr;
    const fault = xhr.getResponseHeader("X-Fault");
    if (xhr.status >= 500) sayUnanswered(event.target, fault && decodeURIComponent(fault));
  });
  // A page that follows the cellar by itself says so when the server has stopped answering.
  function lost(is) {
    document.querySelectorAll("[data-lost]").forEach(function (note) {
      note.hidden = !is;
    });
  }
  ["htmx:sendError", "htmx:timeout", "htmx:responseError"].forEach(function (name) {
    document.addEventListener(name, function () { lost(true); });
  });
  document.addEventListener("htmx:afterOnLoad", function (event) {
    if (event.detail.xhr.status < 400) lost(false);
  });
  document.addEventListener("htmx:afterSwap", function () {
    cameAt = Date.now();
    prepare(document);
    tick();
  });

  prepare(document);
  tick();
  setInterval(tick, 1000);
})();
