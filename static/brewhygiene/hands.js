/* Changing hands without losing what was typed: the page's fields are kept in this tab while the
   person changes or the tablet signs out by itself, and come back with the page. */
(function () {
  "use strict";

  const CHECK_MS = 5000;
  const body = document.body;
  const here = window.location.pathname + window.location.search;
  const kept = "typed:" + here;
  const SECRET = /password|secret|csrf|(^|_)pin(_|$)|^key$|client_time/i;

  // Nobody is signed in any more: whose name was stated without a network is not at the tablet.
  if (!body.dataset.person && ["/sign-in/", "/switch/"].includes(window.location.pathname)) {
    try {
      localStorage.removeItem("stated-hand");
    } catch {
      // A tab without storage has kept nothing.
    }
  }

  function fields(form) {
    return Array.from(form.elements).filter(function (field) {
      return field.name && !SECRET.test(field.name) && !["hidden", "password", "file", "submit", "button"].includes(field.type);
    });
  }

  function valueOf(field) {
    return ["checkbox", "radio"].includes(field.type) ? [field.value, field.checked] : [field.value];
  }

  function isChanged(field) {
    if (["checkbox", "radio"].includes(field.type)) return field.checked !== field.defaultChecked;
    if (field.options) return Array.from(field.options).some((one) => one.selected !== one.defaultSelected);
    return field.value !== field.defaultValue;
  }

  function formsHere() {
    return Array.from(document.querySelectorAll("main form[method=post]"));
  }

  // Only forms that somebody has begun.
  function take() {
    return formsHere().map(function (form) {
      const own = fields(form);
      if (!own.some(isChanged)) return null;
      return { action: form.getAttribute("action"), values: own.map((field) => [field.name, ...valueOf(field)]) };
    });
  }

  function give(taken) {
    const forms = formsHere();
    taken.forEach(function (begun, place) {
      const form = forms[place];
      if (begun && form && form.getAttribute("action") === begun.action) put(form, begun.values);
    });
  }

  // `owner` is whose they are where nobody else may see them.
  function keep(owner) {
    const begun = take();
    try {
      if (begun.some(Boolean)) sessionStorage.setItem(kept, JSON.stringify({ owner: owner, forms: begun }));
    } catch {
      // A tab without storage: nothing can be kept, and the page works as it does without this.
    }
  }

  function put(form, values) {
    const own = fields(form);
    values.forEach(function ([name, value, checked]) {
      own.forEach(function (field) {
        if (field.name !== name) return;
        if (checked === undefined) field.value = value;
        else if (field.value === value) field.checked = checked;
        else return;
        field.dispatchEvent(new Event("input", { bubbles: true }));
        field.dispatchEvent(new Event("change", { bubbles: true }));
      });
    });
  }

  function bringBack() {
    let found = null;
    try {
      found = JSON.parse(sessionStorage.getItem(kept));
    } catch {
      return;
    }
    if (!found || !body.dataset.person) return;
    sessionStorage.removeItem(kept);
    if (found.owner && found.owner !== body.dataset.person) return;
    give(found.forms);
  }

  // For a page that follows the cellar, and must not lose what is being typed.
  const home = window.brewhygiene || (window.brewhygiene = {});
  home.typed = { take: take, give: give, any: () => take().some(Boolean) };

  document.addEventListener("click", function (event) {
    if (event.target.closest && event.target.closest("a[data-change-hands]")) keep("");
  });

  // Whoever signs out leaves the page for the next person, who comes back to it.
  document.addEventListener("submit", function (event) {
    if (event.target.matches("form[data-sign-out]")) event.target.elements.next.value = here;
  });

  // Nobody has touched this tablet for its time: out, and back to this page for the next person.
  const restS = Number(body.dataset.restS || 0);
  let touchedAt = Date.now();
  let asking = false;
  function touched() { touchedAt = Date.now(); }
  ["pointerdown", "keydown", "wheel", "touchmove"].forEach(function (name) {
    document.addEventListener(name, touched, { passive: true, capture: true });
  });
  function rest() {
    if (!restS || Date.now() - touchedAt < restS * 1000) return;
    const form = document.querySelector("form[data-sign-out]");
    if (!form || form.dataset.sent || asking) return;
    asking = true;
    // Signing out without a server would only end on the browser's own page of a dead network.
    home.reachable().then(function (is) {
      asking = is;
      if (!is) return;
      keep(body.dataset.person);
      form.requestSubmit();
    });
  }
  setInterval(rest, CHECK_MS);
  document.addEventListener("visibilitychange", rest);

  bringBack();
})();
