/* A step that calls: at its minimum, its target and its maximum by sound, colour and, where the
   device can, vibration. Sound is switched on by a tap on each tablet, and says so when it is off. */
(function () {
  "use strict";

  const KEPT = "calls on this tablet";
  const FLASH_MS = 6000;
  // Each call its own pattern: how often, how high (Hz), how long (s).
  const CALLS = {
    minimum: { times: 1, hertz: 660, seconds: 0.25, buzz: [200] },
    target: { times: 2, hertz: 880, seconds: 0.3, buzz: [300, 150, 300] },
    maximum: { times: 4, hertz: 1100, seconds: 0.4, buzz: [500, 150, 500, 150, 500, 150, 500] },
  };
  const ORDER = ["minimum", "target", "maximum"];
  let sound = null;
  let awake = null;
  const plainTitle = document.title;

  function stored(name, value) {
    try {
      if (value === undefined) return localStorage.getItem(name);
      localStorage.setItem(name, value);
    } catch {
      // A tab without storage: the choice lasts as long as the page.
    }
    return null;
  }

  let on = stored(KEPT) === "on";

  function isReady() { return Boolean(sound && sound.state === "running"); }

  // Only inside a tap: a browser keeps sound shut until then, and after a lock or a call again.
  function unlock() {
    const Kind = window.AudioContext || window.webkitAudioContext;
    if (!Kind) return Promise.resolve();
    if (!sound) {
      sound = new Kind();
      sound.addEventListener("statechange", show);
    }
    return sound.state === "running" ? Promise.resolve() : sound.resume().catch(function () {});
  }

  function play(call) {
    if (!isReady()) return;
    for (let turn = 0; turn < call.times; turn += 1) {
      const start = sound.currentTime + turn * call.seconds * 1.6;
      const tone = sound.createOscillator();
      const loud = sound.createGain();
      tone.frequency.value = call.hertz;
      loud.gain.setValueAtTime(0.0001, start);
      loud.gain.exponentialRampToValueAtTime(0.8, start + 0.02);
      loud.gain.exponentialRampToValueAtTime(0.0001, start + call.seconds);
      tone.connect(loud).connect(sound.destination);
      tone.start(start);
      tone.stop(start + call.seconds);
    }
  }

  function call(name) {
    const found = CALLS[name];
    document.body.dataset.called = name;
    setTimeout(function () { delete document.body.dataset.called; }, FLASH_MS);
    if (!on) return;
    play(found);
    if (navigator.vibrate) navigator.vibrate(found.buzz);
  }

  // --- what a step has reached ---

  function bound(node, name) {
    return node.dataset[name + "S"] ? Number(node.dataset[name + "S"]) : null;
  }

  // The last bound that is passed, '' before the first. A maximum is of the timer, which is ahead.
  function reached(node, seconds) {
    const run = { minimum: seconds, target: seconds, maximum: seconds + Number(node.dataset.aheadS || 0) };
    return ORDER.reduce(function (last, name) {
      const at = bound(node, name);
      const passed = at !== null && (name === "maximum" ? run[name] > at : run[name] >= at);
      return passed ? name : last;
    }, "");
  }

  function mark(node, name, seconds) {
    // The timer may be over its maximum while the contact time is still under its minimum.
    const minimum = bound(node, "minimum");
    document.querySelectorAll("[data-until-minimum]").forEach(function (note) {
      note.hidden = minimum !== null && seconds >= minimum;
    });
    const box = node.closest("[data-reaches]");
    if (box) box.dataset.reached = name;
  }

  // Once for each bound of each attempt in this tab, also after the page was made anew or the
  // tablet slept; a page that is opened late shows what is passed and calls only for the last.
  function heard(node, seconds) {
    const name = reached(node, seconds);
    mark(node, name, seconds);
    const key = "called:" + node.dataset.call;
    let before = null;
    try {
      before = sessionStorage.getItem(key);
    } catch {
      before = node.calledBefore || null;
    }
    if (before !== null && ORDER.indexOf(name) <= ORDER.indexOf(before)) return;
    try {
      sessionStorage.setItem(key, name);
    } catch {
      node.calledBefore = name;
    }
    if (before !== null && name) call(name);
  }

  function titled(node) {
    const words = node.textContent.trim();
    if (words) document.title = words + " · " + plainTitle;
  }

  document.addEventListener("ran", function (event) {
    const node = event.target;
    if (node.dataset.call) heard(node, event.detail);
    if (node.closest("[data-stay-awake]")) titled(node);
  });

  // --- the switch ---

  function words() {
    if (!on) return "Calls off";
    return isReady() ? "Calls on" : "Calls on, sound off: tap to switch it on";
  }

  function show() {
    document.querySelectorAll("[data-calls]").forEach(function (box) {
      box.hidden = false;
      const button = box.querySelector("[data-calls-switch]");
      button.textContent = words();
      button.setAttribute("aria-pressed", String(on));
      box.querySelector("[data-calls-test]").hidden = !on;
    });
  }

  document.addEventListener("click", function (event) {
    const target = event.target.closest && event.target.closest("[data-calls-switch], [data-calls-test]");
    if (!target) {
      if (on && !isReady() && document.querySelector("[data-calls]")) unlock().then(show);
      return;
    }
    if (target.matches("[data-calls-test]")) {
      unlock().then(function () { show(); call("target"); });
      return;
    }
    // Sound that a lock or a call took away comes back by the same tap.
    on = on && !isReady() ? true : !on;
    stored(KEPT, on ? "on" : "off");
    (on ? unlock() : Promise.resolve()).then(show);
  });

  // --- the screen stays awake while a step runs ---

  function stayAwake() {
    if (!navigator.wakeLock || document.hidden || awake) return;
    if (!document.querySelector("[data-stay-awake]")) return;
    navigator.wakeLock.request("screen").then(function (lock) {
      awake = lock;
      lock.addEventListener("release", function () { awake = null; });
    }, function () {});
  }

  document.addEventListener("visibilitychange", stayAwake);
  document.addEventListener("htmx:afterSwap", function () { show(); stayAwake(); });
  show();
  stayAwake();
})();
