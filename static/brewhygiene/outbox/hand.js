/* Who is at the tablet without a network: its last verified person, or somebody who only says so.
   No PIN is known here. What a stated person records is sent as stated; as soon as the server
   answers, the session of the last person is ended, and the next one signs in by PIN. */
(function () {
  "use strict";

  const box = window.outbox;
  const MARK = "stated-hand";
  const asOf = document.documentElement.dataset.asOf;
  const session = document.body.dataset.person || "";

  function read() {
    try {
      return JSON.parse(localStorage.getItem(MARK));
    } catch {
      return null;
    }
  }

  function forget() {
    try {
      localStorage.removeItem(MARK);
    } catch {
      // No storage: nothing was kept there.
    }
  }

  function shown(mark) {
    const link = document.querySelector(".who-name");
    if (!link) return;
    link.replaceChildren(mark.short, Object.assign(document.createElement("span"), { className: "who-full", textContent: mark.name }));
    link.title = `${mark.name}: name stated, not verified`;
  }

  // Somebody signed in since: whoever it is, is verified.
  let mark = read();
  if (mark && mark.session !== session) {
    forget();
    mark = null;
  }
  box.stated = mark;
  if (mark) {
    box.person = mark.person;
    shown(mark);
  }

  async function handBack() {
    if (!(await window.brewhygiene.reachable())) return;
    await box.again();
    const form = document.querySelector("form[data-sign-out]");
    if (!form) return;
    forget();
    form.requestSubmit();
  }
  if (mark && !asOf) handBack().catch(function () {});

  // The page of names, which the tablet carries along.
  const offline = document.querySelector("[data-stated-offline]");
  if (offline && asOf) {
    offline.hidden = false;
    document.querySelector("[data-stated-online]").hidden = true;
    offline.addEventListener("click", function (event) {
      const chosen = event.target.closest("[data-state-name]");
      if (!chosen) return;
      const said = { person: chosen.dataset.stateName, name: chosen.dataset.name, short: chosen.dataset.short, session: session };
      try {
        localStorage.setItem(MARK, JSON.stringify(said));
      } catch {
        return;
      }
      const next = new URLSearchParams(window.location.search).get("next") || "/";
      window.location.assign(next.startsWith("/") && !next.startsWith("//") ? next : "/");
    });
  }
})();
