/* Forms marked data-keep: what was typed is first kept on this tablet, then sent. */
(function () {
  "use strict";

  const box = window.outbox;
  const asOf = document.documentElement.dataset.asOf;

  // A page that came out of the tablet's own store carries a key that may have been used.
  function freshKeys(root) {
    root.querySelectorAll("form[data-keep] [name=key]").forEach(function (field) {
      field.value = box.newKey();
    });
  }
  if (asOf) freshKeys(document);

  function clock(ms) {
    const zone = document.documentElement.dataset.zone;
    return window.written.moment(ms, zone, { time: true });
  }

  function say(form, text, kind) {
    let words = form.querySelector(".kept-words");
    if (!words) {
      words = document.createElement("p");
      form.prepend(words);
    }
    words.className = `kept-words ${kind}`;
    words.setAttribute("role", kind === "errors" ? "alert" : "status");
    words.textContent = text;
    words.scrollIntoView({ block: "nearest" });
  }

  function fieldsOf(form, submitter) {
    const data = submitter && submitter.name ? new FormData(form, submitter) : new FormData(form);
    return Array.from(data.entries())
      .filter(([name]) => name !== "csrfmiddlewaretoken")
      // No file was chosen.
      .filter(([, value]) => !(value instanceof File && value.size === 0 && value.name === ""))
      .map(([name, value]) => (value instanceof File ? [name, value, value.name] : [name, value]));
  }

  // For people: the fields with their labels, without what is hidden.
  function inWords(form) {
    return Array.from(form.elements)
      .filter((field) => field.name && !["hidden", "submit", "button", "password"].includes(field.type))
      .filter((field) => (["radio", "checkbox"].includes(field.type) ? field.checked : field.value !== ""))
      .map(function (field) {
        const group = field.closest("fieldset");
        const legend = group && group.querySelector("legend");
        const label = field.labels && field.labels[0] ? field.labels[0].textContent : field.name;
        if (field.type === "radio") return [legend ? legend.textContent : field.name, label];
        if (field.type === "checkbox") return [label, "yes"];
        const shown = field.options ? field.selectedOptions[0].textContent : field.type === "file" ? field.files[0].name : field.value;
        return [label, shown];
      })
      .map((pair) => pair.map((words) => words.replace(/\s+/g, " ").trim()));
  }

  function number(text) {
    const value = Number(String(text).trim().replace(",", "."));
    return String(text).trim() === "" || Number.isNaN(value) ? null : value;
  }

  // By the limits that came with the page. Only a word for now: the server judges.
  function provisional(form) {
    const value = (name) => form.elements.namedItem(name) && form.elements.namedItem(name).value;
    if (form.dataset.limits) {
      const rlu = number(value("rlu"));
      const limits = JSON.parse(form.dataset.limits)[`${value("meter")}:${value("test_lot")}`];
      if (rlu === null) return "";
      if (!limits) return "unjudged";
      return rlu <= limits[0] ? "clear" : rlu <= limits[1] ? "alert" : "action";
    }
    if (form.dataset.window) {
      const asked = JSON.parse(form.dataset.window);
      const read = number(value("value"));
      if (read === null || (asked.basis && asked.basis !== value("basis"))) return "";
      if (asked.minimum !== null && read < asked.minimum) return "below the window";
      if (asked.maximum !== null && read > asked.maximum) return "above the window";
      return "in the window";
    }
    return "";
  }

  function replaceMain(text) {
    const page = new DOMParser().parseFromString(text, "text/html");
    const main = page.querySelector("main");
    if (!main) {
      window.location.reload();
      return;
    }
    document.querySelector("main").replaceWith(document.adoptNode(main));
    document.title = page.title;
    window.htmx.process(main);
    // The house's script draws the pad and runs the timers of what came.
    document.dispatchEvent(new CustomEvent("htmx:afterSwap", { detail: {} }));
    const wrong = main.querySelector(".has-error input, .errors");
    if (wrong) wrong.scrollIntoView({ block: "center" });
  }

  function replacePiece(form, text) {
    const target = document.querySelector(form.dataset.hxTarget);
    window.htmx.swap(target, text, { swapStyle: "outerHTML" });
    document.dispatchEvent(new Event("outbox:shown"));
  }

  function show(form, swap, last) {
    if (last.end === "taken" && last.to) {
      window.location.assign(last.to);
      return;
    }
    if (last.status === 204) {
      window.location.reload();
      return;
    }
    if (swap && !/^\s*<!doctype/i.test(last.text)) replacePiece(form, last.text);
    else replaceMain(last.text);
  }

  const WHY = {
    "signed-out": "You were signed out. It is sent when you sign in again.",
    "other-person": "Somebody else is signed in. It is sent when you sign in again.",
    fault: "The server could not take it. It is sent again by itself.",
    unanswered: "No answer from the server. It is sent by itself as soon as the server answers.",
  };

  // Kept once: the same form is not filled in again while it waits.
  function close(form) {
    form.querySelectorAll("input, select, textarea, button").forEach(function (field) { field.disabled = true; });
    if (!form.dataset.then) return;
    const on = document.createElement("a");
    on.className = "button next";
    on.href = form.dataset.then;
    on.textContent = form.dataset.thenWords;
    form.querySelector(".kept-words").after(on);
  }

  async function closeWhatWaits() {
    const forms = Array.from(document.querySelectorAll("form[data-keep=once]"));
    if (!forms.length) return;
    const waiting = (await box.all()).filter((item) => item.state === "waiting" && item.once);
    forms.forEach(function (form) {
      const item = waiting.find((one) => new URL(one.action, window.location).pathname === new URL(form.action).pathname);
      if (!item || form.querySelector(".kept-words")) return;
      say(form, `Kept on this tablet at ${clock(item.typedAt + item.offset)}. It is sent by itself as soon as the server answers.`, "notice notice-warning");
      close(form);
    });
  }
  if (asOf) closeWhatWaits().catch(function () {});

  // Why what is chosen cannot wait for the network; '' where it can.
  function needsServer(form, submitter) {
    const chosen = Array.from(form.querySelectorAll("input[data-needs-server]:checked"))[0];
    return (submitter && submitter.dataset.needsServer) || form.dataset.needsServer || (chosen && chosen.dataset.needsServer) || "";
  }

  async function sendNow(form, submitter, words) {
    if (await window.brewhygiene.reachable()) {
      form.dataset.reached = "yes";
      delete form.dataset.sent;
      form.requestSubmit(submitter);
      return;
    }
    delete form.dataset.sent;
    say(form, `${words} Nothing was kept or sent.`, "errors");
  }

  async function keepAndSend(form, submitter) {
    const now = Date.now();
    const verdict = provisional(form);
    const swap = Boolean(form.dataset.hxPost);
    const item = {
      person: box.person,
      name: box.stated ? box.stated.name : document.body.dataset.personName || "",
      stated: Boolean(box.stated),
      what: document.querySelector("h1").textContent.trim(),
      page: window.location.pathname + window.location.search,
      action: form.dataset.hxPost || (submitter && submitter.getAttribute("formaction")) || form.getAttribute("action") || window.location.href,
      swap: swap,
      fields: fieldsOf(form, submitter),
      words: inWords(form),
      once: form.dataset.keep === "once",
      typedAt: now,
      offset: box.offset(),
      verdict: verdict,
    };
    let id;
    box.tryingAt = now;
    try {
      id = await box.add(item);
    } catch (trouble) {
      delete form.dataset.sent;
      say(
        form,
        trouble && trouble.name === "QuotaExceededError"
          ? "This tablet's storage is full: nothing was kept or sent. What you typed is still here. Free some space, then record again."
          : "This tablet could not keep what you typed, so it was not sent. It is still here. Write it down, then record again.",
        "errors",
      );
      return;
    }
    if (navigator.storage && navigator.storage.persist) navigator.storage.persist().catch(function () {});
    let last = null;
    try {
      last = await box.sendNow(id);
    } finally {
      box.tryingAt = null;
      document.dispatchEvent(new Event("outbox:changed"));
    }
    if (!form.isConnected) return;
    delete form.dataset.sent;
    const mine = (await box.all()).find((one) => one.id === id);
    if (!mine && last) {
      show(form, swap, last);
      return;
    }
    // Kept. The form is free for what comes next, unless it is filled in once.
    if (!item.once) {
      form.reset();
      form.querySelectorAll("[name=key]").forEach(function (field) { field.value = box.newKey(); });
    }
    const judged = verdict ? ` Provisional: ${verdict}.` : "";
    const why = (last && WHY[last.why]) || WHY.unanswered;
    say(form, `Kept on this tablet at ${clock(box.now())}.${judged} ${why} ${(last && last.words) || ""}`.trim(), "notice notice-warning");
    if (item.once) close(form);
    if (last && (last.why === "signed-out" || last.why === "other-person")) {
      const way = document.createElement("a");
      way.href = last.why === "signed-out" ? item.page : `/switch/?next=${encodeURIComponent(item.page)}`;
      way.textContent = "Sign in";
      form.querySelector(".kept-words").append(" ", way);
    }
  }

  // Registered after the house's script: a second tap has been stopped, the tablet's time is in.
  document.addEventListener(
    "submit",
    function (event) {
      const form = event.target;
      const words = needsServer(form, event.submitter);
      if (words && !form.dataset.reached) {
        event.preventDefault();
        event.stopImmediatePropagation();
        sendNow(form, event.submitter, words);
        return;
      }
      if (words || form.dataset.keep === undefined || !box.person || !window.indexedDB) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      keepAndSend(form, event.submitter).catch(function () {
        delete form.dataset.sent;
        say(form, "This went wrong on the tablet. What you typed is kept, see what waits.", "errors");
      });
    },
    true,
  );
})();
