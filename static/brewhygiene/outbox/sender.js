/* Sends what this tablet keeps: one sender a tablet, one form after the other, each as the person
   who typed it and as nobody else. Its key keeps it from counting twice. */
(function () {
  "use strict";

  const box = window.outbox;
  const PATIENCE_MS = 10000;
  const AGAIN_MS = 5000;
  const person = document.body.dataset.person || "";

  // How far this tablet's clock is behind the server's, by the last answer. Half a second is lost
  // in its header.
  let offset = Number(localStorageItem("clock-offset") || 0);
  function localStorageItem(name, value) {
    try {
      if (value === undefined) return localStorage.getItem(name);
      localStorage.setItem(name, value);
    } catch {
      // No storage: the offset is asked for again.
    }
    return null;
  }
  function heard(answer) {
    const date = Date.parse(answer.headers.get("Date") || "");
    if (Number.isNaN(date) || answer.headers.get("X-As-Of")) return;
    offset = Math.round(date + 500 - Date.now());
    // Within two seconds the clocks agree as well as the header can tell.
    if (Math.abs(offset) < 2000) offset = 0;
    localStorageItem("clock-offset", String(offset));
  }

  function cookie(name) {
    const found = document.cookie.split("; ").find((part) => part.startsWith(`${name}=`));
    return found ? decodeURIComponent(found.slice(name.length + 1)) : "";
  }

  function patience(ms) {
    if (AbortSignal.timeout) return AbortSignal.timeout(ms);
    const stop = new AbortController();
    setTimeout(function () { stop.abort(); }, ms);
    return stop.signal;
  }

  // The server's verdicts as the tablet calls them.
  const FINAL = {
    within: "in the window", below: "below the window", above: "above the window",
    clear: "clear", alert: "alert", action: "action", unjudged: "unjudged",
  };

  // One try. {end: "taken" | "refused" | "waiting", ...}
  async function send(item, late) {
    const form = new FormData();
    item.fields.forEach(function ([name, value, fileName]) {
      if (value instanceof Blob) form.append(name, value, fileName);
      else form.append(name, value);
    });
    const headers = {
      "X-CSRFToken": cookie("csrftoken"),
      "X-Kept-Person": item.stated ? person : item.person,
      "X-Kept-Typed-At": new Date(item.typedAt + item.offset).toISOString(),
      "X-Kept-Offset": String(Math.round(item.offset / 1000)),
    };
    if (item.verdict) headers["X-Kept-Verdict"] = item.verdict;
    if (item.afterEnd) headers["X-Kept-After-End"] = "yes";
    if (item.stated) headers["X-Kept-Stated"] = item.person;
    if (late) headers["X-Kept-Late"] = "yes";
    if (item.swap && !late) {
      headers["HX-Request"] = "true";
      headers["HX-Current-URL"] = window.location.href;
    }
    let answer;
    try {
      answer = await fetch(item.action, {
        method: "POST",
        body: form,
        headers: headers,
        credentials: "same-origin",
        cache: "no-store",
        redirect: "manual",
        signal: patience(PATIENCE_MS),
      });
      heard(answer);
      const outcome = answer.headers.get("X-Kept-Outcome");
      const text = await answer.text();
      if (outcome === "already" || outcome === "taken") {
        const to = answer.headers.get("X-Kept-Went-To");
        return { end: "taken", text: text, status: answer.status, to: to, verdict: FINAL[answer.headers.get("X-Kept-Verdict")] };
      }
      if (outcome === "signed-out") return { end: "waiting", why: "signed-out" };
      if (outcome === "other-person") return { end: "waiting", why: "other-person" };
      if (answer.type === "opaqueredirect" || answer.status === 401 || answer.status >= 500) {
        const fault = answer.headers.get("X-Fault");
        return { end: "waiting", why: "fault", words: fault ? decodeURIComponent(fault) : "" };
      }
      if (answer.status >= 400) return { end: "refused", text: text, status: answer.status, said: decodeURIComponent(answer.headers.get("X-Kept-Reasons") || "") };
      // A page that is none of ours, e.g. a wireless network's own: it took nothing.
      return { end: "waiting", why: "fault" };
    } catch {
      return { end: "waiting", why: "unanswered" };
    }
  }

  // The words of a refusal on the page that came back.
  function reasons(text, status) {
    const page = new DOMParser().parseFromString(text, "text/html");
    const said = Array.from(page.querySelectorAll("main .errors, main .error, .errors, .error"), (one) => one.textContent.trim());
    const words = Array.from(new Set(said.filter(Boolean))).join(" ");
    if (words) return words;
    const title = page.querySelector("h1");
    return title ? title.textContent.trim() : `The server answered ${status}.`;
  }

  let chain = Promise.resolve();
  function alone(act) {
    if (navigator.locks) return navigator.locks.request("outbox", act);
    chain = chain.then(act, act);
    return chain;
  }

  // Forms of one clean follow each other, whoever typed them.
  function placeOf(item) {
    return new URL(item.action, window.location).pathname.split("/").slice(0, 3).join("/");
  }

  // Whose may be sent in this session: one's own, and what is only stated to be somebody's.
  function mayGo(item) {
    return item.state === "waiting" && (item.stated || item.person === person);
  }

  // All that may be sent, in order, up to a number. Gives what became of that one.
  async function deliver(upTo, shown) {
    let last = null;
    const before = new Set();
    for (const item of await box.all()) {
      if (upTo !== undefined && item.id > upTo) break;
      if (item.state === "waiting" && !mayGo(item)) before.add(placeOf(item));
      if (!mayGo(item) || (item.stated && before.has(placeOf(item)))) continue;
      const own = item.id === upTo;
      last = await send(item, !own);
      if (last.end === "waiting") {
        lost(last.why);
        return last;
      }
      if (last.end === "taken") {
        const otherwise = !own && item.verdict && last.verdict && last.verdict !== item.verdict;
        if (otherwise) await box.put({ ...item, state: "told", final: last.verdict, to: last.to || item.page });
        else await box.remove(item.id);
        if (!own) document.dispatchEvent(new CustomEvent("outbox:delivered", { detail: item }));
      } else if (own && shown) {
        // It is on the screen again, with what was typed.
        await box.remove(item.id);
      } else {
        await box.put({ ...item, state: "refused", reasons: last.said || reasons(last.text, last.status), refusedAt: Date.now() + offset });
      }
    }
    return last;
  }

  let unreached = false;
  function lost(why) {
    unreached = why;
    document.dispatchEvent(new Event("outbox:changed"));
  }

  box.person = person;
  // '' where the server has it, else why not.
  box.post = async function (address, form) {
    try {
      const answer = await fetch(address, { method: "POST", body: form, headers: { "X-CSRFToken": cookie("csrftoken") }, signal: patience(10000) });
      if (answer.ok && !answer.redirected) return "";
      if (answer.status === 422) return Object.values((await answer.json()).errors).flat().join(" ");
      return "The server did not answer as it should. It stays here.";
    } catch {
      return "No answer from the server. It stays here.";
    }
  };
  // What the server has about the same; null where it does not say.
  box.held = async function (item) {
    const asked = new URLSearchParams({ about: new URL(item.action, window.location).pathname, typed_at: new Date(item.typedAt + item.offset).toISOString() });
    try {
      const answer = await fetch(`/waiting-here/held/?${asked}`, { signal: patience(PATIENCE_MS) });
      return answer.ok && !answer.redirected ? await answer.json() : null;
    } catch {
      return null;
    }
  };
  box.unreached = function () { return unreached; };
  box.now = function () { return Date.now() + offset; };
  box.offset = function () { return offset; };
  box.sendNow = function (id) { return alone(() => deliver(id, true)); };
  box.again = async function () {
    if (!person || document.hidden) return;
    if (!(await box.all()).some(mayGo)) return;
    const last = await alone(() => deliver());
    if (last && last.end !== "waiting") lost(false);
  };

  function tryAgain() { box.again().catch(function () {}); }
  window.addEventListener("online", tryAgain);
  window.addEventListener("pageshow", tryAgain);
  document.addEventListener("visibilitychange", tryAgain);
  setInterval(tryAgain, AGAIN_MS);
  tryAgain();
})();
