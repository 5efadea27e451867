/* What waits on this tablet: its number on every page, and its own page. */
(function () {
  "use strict";

  const box = window.outbox;

  function made(name, className, text) {
    const node = document.createElement(name);
    if (className) node.className = className;
    if (text) node.textContent = text;
    return node;
  }

  function when(ms) {
    const zone = document.documentElement.dataset.zone;
    return window.written.moment(ms, zone, { day: true, time: true });
  }

  function bar(mine) {
    let link = document.querySelector(".outbox-bar");
    const asOf = document.documentElement.dataset.asOf;
    const refused = mine.filter((item) => item.state === "refused").length;
    const told = mine.filter((item) => item.state === "told").length;
    const waiting = mine.length - refused - told;
    const words = [];
    if (box.stated) words.push(`${box.stated.name}: name stated, not verified`);
    if (asOf) words.push(`Offline since ${when(Date.parse(document.documentElement.dataset.offlineSince) + box.offset())}; this page as of ${when(Date.parse(asOf))}`);
    if (waiting) words.push(`${waiting} waiting on this tablet`);
    if (refused) words.push(`${refused} not taken: look at ${refused === 1 ? "it" : "them"}`);
    if (told) words.push(`${told} judged otherwise than on the tablet: look at ${told === 1 ? "it" : "them"}`);
    if (!words.length) {
      if (link) link.remove();
      return;
    }
    if (!link) {
      link = made("a", "outbox-bar");
      link.href = "/waiting-here/";
      link.setAttribute("role", "status");
      document.querySelector("main").before(link);
    }
    link.textContent = words.join(" · ");
  }

  // What the server has, and since when: both sides stand beside each other.
  function otherSide(item, acts) {
    const side = made("div", "other-side");
    box.held(item).then(function (held) {
      if (!held || !held.facts.length) return;
      side.append(made("h3", "", "On the server"));
      const facts = made("dl", "facts");
      held.facts.forEach(function (fact) {
        facts.append(made("dt", "", when(Date.parse(fact.since))), made("dd", "", fact.words));
      });
      side.append(facts);
      if (!held.may_be_late || item.state !== "refused") return;
      const late = made("button", "", "Record as late");
      late.type = "button";
      late.addEventListener("click", async function () {
        await box.put({ ...item, state: "waiting", afterEnd: true });
        box.again();
      });
      acts.append(late);
      side.append(made("p", "", "It can be recorded as late: marked so, as of when it was typed. A reading outside its window is then a deviation to accept."));
    });
    return side;
  }

  // It is recorded. The tablet keeps it until somebody has seen that it was judged otherwise.
  function judgedOtherwise(line, item) {
    line.append(made("p", "errors", `Recorded, and judged otherwise: ${item.final}.`));
    const acts = made("p", "row");
    const open = made("a", "button", "Open record");
    open.href = item.to;
    const seen = made("button", "primary", "I have seen it");
    seen.type = "button";
    seen.addEventListener("click", function () { box.remove(item.id); });
    acts.append(seen, open);
    line.append(otherSide(item, acts), acts);
    return line;
  }

  function row(item) {
    const line = made("li", `outbox-item outbox-${item.state}`);
    line.append(made("h2", "", item.what));
    line.append(made("p", "list-facts", `${item.name}${item.stated ? " (name stated, not verified)" : ""}, typed ${when(item.typedAt + item.offset)}`));
    const facts = made("dl", "facts");
    item.words.forEach(function ([label, value]) {
      facts.append(made("dt", "", label), made("dd", "", value));
    });
    if (item.state !== "waiting") line.append(made("h3", "", "On this tablet"));
    line.append(facts);
    if (item.verdict) line.append(made("p", "", `Provisional: ${item.verdict}.`));
    if (item.state === "told") return judgedOtherwise(line, item);
    if (item.state !== "refused") return line;
    line.append(made("p", "errors", `The server did not take it: ${item.reasons}`));
    const acts = made("p", "row");
    const open = made("a", "button primary", "Open page");
    open.href = item.page;
    const again = made("button", "", "Send again");
    again.type = "button";
    again.addEventListener("click", async function () {
      await box.put({ ...item, state: "waiting" });
      box.again();
    });
    acts.append(open, again);
    line.append(otherSide(item, acts), acts, removal(item));
    return line;
  }

  // It leaves the tablet only once the server has kept it, with a reason.
  function removal(item) {
    const part = made("form", "set-aside");
    const label = made("label", "", "Why it is not needed, or where it is recorded");
    const field = made("input");
    const button = made("button", "quiet", "Close with this reason");
    const said = made("p", "errors");
    field.id = `reason-${item.id}`;
    field.maxLength = 300;
    label.htmlFor = field.id;
    said.hidden = true;
    said.setAttribute("role", "alert");
    part.append(label, field, said, button);
    part.addEventListener("submit", async function (event) {
      event.preventDefault();
      const sent = new FormData();
      Object.entries({
        what: item.what, page: item.page, typed: JSON.stringify(item.words), reason: field.value,
        typed_at: new Date(item.typedAt + item.offset).toISOString(),
        refused_because: item.reasons || "The server did not take it.", key: `aside-${item.id}-${item.typedAt}`,
      }).forEach(([name, value]) => sent.append(name, value));
      const words = await box.post("/waiting-here/set-aside/", sent);
      if (words === "") box.remove(item.id);
      else {
        said.hidden = false;
        said.textContent = words;
      }
    });
    return part;
  }

  let drawn = "";
  async function draw() {
    const all = await box.all();
    const mine = all.filter((item) => item.person === box.person);
    // What is just being sent for the first time does not wait yet.
    bar(mine.filter((item) => item.typedAt !== box.tryingAt));
    const list = document.querySelector("[data-outbox-list]");
    if (!list) return;
    const others = all.length - mine.length;
    const state = JSON.stringify([mine.map((item) => [item.id, item.state, item.reasons]), others]);
    if (state === drawn) return;
    drawn = state;
    list.replaceChildren(...mine.map(row));
    document.querySelector("[data-outbox-none]").hidden = mine.length > 0;
    const note = document.querySelector("[data-outbox-others]");
    note.hidden = !others;
    note.textContent = `${others} more of other people. Each is sent when its person signs in here, or by the name that was stated.`;
    if (navigator.storage && navigator.storage.persisted) {
      const is = await navigator.storage.persisted();
      document.querySelector("[data-outbox-protected]").hidden = is || !mine.length;
    }
  }

  document.addEventListener("outbox:changed", function () { draw().catch(function () {}); });
  draw().catch(function () {});

  // What this tablet needs without a network is kept by the service worker.
  if ("serviceWorker" in navigator && window.isSecureContext && box.person) {
    navigator.serviceWorker.register("/worker.js", { scope: "/", updateViaCache: "none" }).catch(function () {});
  }
})();
