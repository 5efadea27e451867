/* A page over plain HTTP tries whether this tablet trusts the installation's certificate, and then
   offers the same page over HTTPS. It never goes there by itself: the session there is another one,
   and what is being typed here would be lost. */
(function () {
  "use strict";

  const TRY_MS = 4000;
  const AGAIN_MS = 10 * 60 * 1000;
  const TRIED = "https-tried-at";
  const CLOSED = "https-closed";
  const origin = document.body.dataset.https;
  const onTrustPage = document.querySelector("[data-trust-page]") !== null;

  function remembered(name) {
    try {
      return sessionStorage.getItem(name);
    } catch {
      return null;
    }
  }

  function remember(name, value) {
    try {
      sessionStorage.setItem(name, value);
    } catch {
      // A tab without storage asks at each page.
    }
  }

  function offer() {
    const notice = document.createElement("div");
    notice.className = "notice notice-note";
    notice.setAttribute("role", "status");
    const words = document.createElement("p");
    words.textContent = "This device trusts this installation. Over HTTPS nobody on the network can read along. Sign in again there.";
    const acts = document.createElement("p");
    acts.className = "row";
    const go = document.createElement("a");
    go.className = "button";
    go.textContent = "Open over HTTPS";
    go.href = origin + window.location.pathname + window.location.search + window.location.hash;
    const close = document.createElement("button");
    close.type = "button";
    close.className = "quiet";
    close.textContent = "Close";
    close.addEventListener("click", function () {
      remember(CLOSED, "yes");
      notice.remove();
    });
    acts.append(go, close);
    notice.append(words, acts);
    const main = document.getElementById("main");
    main.insertBefore(notice, main.firstChild);
  }

  async function ask() {
    if (!onTrustPage) {
      const age = Date.now() - Number(remembered(TRIED) || 0);
      if (remembered(CLOSED) || (age >= 0 && age < AGAIN_MS)) return;
    }
    const stop = new AbortController();
    const late = setTimeout(() => stop.abort(), TRY_MS);
    try {
      const answer = await fetch(origin + document.body.dataset.httpsAsks, {
        mode: "cors", credentials: "omit", cache: "no-store", signal: stop.signal,
      });
      await answer.text();
      if (answer.ok) offer();
    } catch {
      // Not trusted here, or not reached: plain HTTP goes on as it is.
      remember(TRIED, String(Date.now()));
    } finally {
      clearTimeout(late);
    }
  }

  if (origin) ask();
})();
