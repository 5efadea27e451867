/* Pages that follow the cellar: every two seconds one small question, and only where something was
   recorded the page itself. Focus, scroll and what is being typed stay as they are. */
(function () {
  "use strict";

  const EVERY_MS = 2000;
  const SPREAD_MS = 400; // so that fifty tablets do not ask at the same moment
  const HIDDEN_MS = 15000;
  const LIMIT_MS = 8000;
  const home = window.brewhygiene || (window.brewhygiene = {});
  let seen = null;
  let ownWrites = 0;

  function main() { return document.getElementById("main"); }

  function subject() {
    const node = main();
    if (!node) return null;
    if (node.dataset.liveTurnaround) return "turnaround=" + node.dataset.liveTurnaround;
    return node.dataset.live === undefined ? null : "";
  }

  function say() {
    let note = document.querySelector(".live-note");
    if (note) return;
    note = document.createElement("div");
    note.className = "notice notice-warning live-note";
    note.setAttribute("role", "status");
    const words = document.createElement("p");
    words.textContent = "Changed on another tablet since. What you typed is still here.";
    const show = document.createElement("button");
    show.type = "button";
    show.textContent = "Show what changed";
    show.addEventListener("click", function () { follow(true); });
    note.append(words, show);
    main().prepend(note);
  }

  // The whole of the page anew, in its place; what was typed goes where it was.
  function put(parsed) {
    const fresh = parsed.getElementById("main");
    if (!fresh || !window.htmx) { window.location.reload(); return; }
    const focused = document.activeElement && document.activeElement.id;
    const top = window.scrollY;
    const typed = home.typed ? home.typed.take() : null;
    document.body.className = parsed.body.className;
    document.title = parsed.title;
    window.htmx.swap("#main", fresh.outerHTML, { swapStyle: "outerHTML", settleDelay: 0, swapDelay: 0 });
    if (typed) home.typed.give(typed);
    const again = focused && document.getElementById(focused);
    if (again) again.focus({ preventScroll: true });
    window.scrollTo(0, top);
  }

  function follow(evenIfTyped) {
    return fetch(window.location.href, {
      headers: { "X-Follow": "1" },
      cache: "no-store",
      signal: AbortSignal.timeout(LIMIT_MS),
    }).then(function (answer) {
      if (!answer.ok) return null;
      if (answer.redirected) { window.location.assign(answer.url); return null; }
      return answer.text();
    }).then(function (text) {
      if (!text) return;
      const parsed = new DOMParser().parseFromString(text, "text/html");
      if (!evenIfTyped && home.typed && home.typed.any()) say();
      else put(parsed);
    });
  }

  function changed() {
    if (main().dataset.live === "event") {
      document.body.dispatchEvent(new Event("live"));
      return Promise.resolve();
    }
    return follow(false);
  }

  // What the page was made with; a page of the whole cellar takes the first answer for it.
  function made() {
    const node = main();
    return node && node.dataset.liveRevision !== undefined ? node.dataset.liveRevision : null;
  }

  function isNew(said) {
    const revision = made();
    if (revision !== null) return said.split(" ")[1] !== revision;
    return seen !== null && seen !== said;
  }

  function ask() {
    const about = subject();
    if (about === null) return Promise.resolve();
    const query = about + (seen ? (about ? "&" : "") + "seen=" + encodeURIComponent(seen) : "");
    return fetch("/now/?" + query, { cache: "no-store", signal: AbortSignal.timeout(LIMIT_MS) }).then(function (answer) {
      if (answer.status !== 200) return null;
      return answer.text();
    }).then(function (said) {
      if (!said) return null;
      const news = isNew(said);
      const own = ownWrites > 0;
      ownWrites = 0;
      seen = said;
      if (!news) return null;
      if (own && made() !== null) {
        // This page's own write, which it shows already.
        main().dataset.liveRevision = said.split(" ")[1];
        return null;
      }
      return changed();
    });
  }

  function again() {
    setTimeout(function () {
      ask().then(again, again);
    }, (document.hidden ? HIDDEN_MS : EVERY_MS) + Math.random() * SPREAD_MS);
  }

  document.addEventListener("htmx:afterRequest", function (event) {
    const verb = event.detail.requestConfig && event.detail.requestConfig.verb;
    if (verb && verb !== "get" && event.detail.successful) ownWrites += 1;
  });
  document.addEventListener("outbox:shown", function () { ownWrites += 1; });
  document.addEventListener("visibilitychange", function () { if (!document.hidden) ask().catch(function () {}); });
  window.addEventListener("pageshow", function () { ask().catch(function () {}); });
  again();
})();
