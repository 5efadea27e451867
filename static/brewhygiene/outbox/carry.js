/* What may be needed without a network is fetched while there is one: the end of a step, a decision
   on its deviation, the next step. And without one: what cannot be done, beside its button. */
(function () {
  "use strict";

  const box = window.outbox;
  const asOf = document.documentElement.dataset.asOf;
  const asked = new Set();

  // What every tablet needs, fetched once for each person.
  const ALWAYS = ["/waiting-here/", "/waiting-here/name/"];
  async function lacking() {
    const pages = await caches.open("pages-1");
    const found = await Promise.all(ALWAYS.map((path) => pages.match(path)));
    return ALWAYS.filter((path, place) => !found[place]);
  }

  async function carry() {
    const worker = "serviceWorker" in navigator && navigator.serviceWorker.controller;
    if (!worker || asOf || !box.person) return;
    const always = (await lacking()).filter((path) => !asked.has(path));
    always.forEach((path) => asked.add(path));
    if (always.length) worker.postMessage({ carry: always });
    const fresh = Array.from(document.querySelectorAll("a[data-carry]"), (link) => link.href.split("#")[0]).filter((href) => !asked.has(href));
    fresh.forEach((href) => asked.add(href));
    if (fresh.length) worker.postMessage({ carry: fresh });
  }

  function tell() {
    const offline = Boolean(asOf) || !navigator.onLine || box.unreached() === "unanswered";
    document.querySelectorAll("[data-when-offline]").forEach(function (words) { words.hidden = !offline; });
  }

  // A part of a page that cannot be fetched: its whole page may have been carried along.
  document.addEventListener("htmx:sendError", function (event) {
    const link = event.target.closest && event.target.closest("a[data-carry][data-hx-get]");
    if (link && navigator.serviceWorker && navigator.serviceWorker.controller) window.location.assign(link.href);
  });

  function look() {
    carry().catch(function () {});
    tell();
  }
  ["outbox:changed", "outbox:shown", "htmx:afterSwap"].forEach((name) => document.addEventListener(name, look));
  window.addEventListener("online", look);
  window.addEventListener("offline", look);
  if ("serviceWorker" in navigator) navigator.serviceWorker.addEventListener("controllerchange", look);
  look();
})();
