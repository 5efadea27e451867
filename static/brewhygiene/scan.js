/* Scanning: by the tablet's camera where the browser reads barcodes, and by a scanner that types
   anywhere. The text goes to the server, which reads it; here it is only filled in and shown.
   Every page works without this: a code can be typed or pasted into a lot's field, or on /scan/. */
(function () {
  "use strict";

  const body = document.body;
  const home = window.brewhygiene || (window.brewhygiene = {});
  if (!body.dataset.scanAt) return;

  // A scanner types a character every few milliseconds, and nobody ten in this time each.
  const BETWEEN_MS = 50;
  const SHORTEST = 4;
  // In a field of another kind only what no hand types: so long, so fast and written as a code.
  const SHORTEST_IN_FIELD = 16;
  const LOOK_EVERY_MS = 150;
  const SEPARATOR = "\u001d";
  const FORMATS = ["qr_code", "data_matrix", "code_128", "ean_13", "ean_8", "upc_a", "itf"];
  // Written as a package's code, and not as a lot that somebody types.
  const CODE = /^(\][A-Za-z]\w|\u001d|\(\d{2,4}\)|0[123]\d{14}|https?:\/\/)/;

  // --- what was scanned, filled in and shown ---------------------------------------------------

  function lotFields() {
    return Array.from(document.querySelectorAll("main [data-scan=lot]"));
  }

  // Where a code goes that was scanned outside of any field: the page's one field for a lot.
  function fieldHere() {
    const fields = lotFields();
    return fields.length === 1 ? fields[0] : null;
  }

  function note(beside, words, loud) {
    if (!words) return null;
    const line = document.createElement("p");
    line.className = loud ? "scan-said error" : "scan-said";
    line.setAttribute("role", loud ? "alert" : "status");
    line.textContent = words;
    beside.append(line);
    return line;
  }

  function clearNotes() {
    document.querySelectorAll(".scan-said").forEach((line) => line.remove());
  }

  function set(field, value) {
    if (!field || field.value === value) return;
    field.value = value;
    field.dispatchEvent(new Event("input", { bubbles: true }));
    field.dispatchEvent(new Event("change", { bubbles: true }));
  }

  function blockOf(field) {
    return field.closest(".field") || field.parentElement;
  }

  // A tap that says which product a new number is of.
  function ask(field, words, gtin, product) {
    const line = note(blockOf(field), words, false);
    const yes = document.createElement("button");
    yes.type = "button";
    yes.className = "quiet";
    yes.textContent = "Yes, remember it";
    yes.addEventListener("click", function () {
      if (product().endsWith(":")) {
        line.firstChild.textContent = "Choose the ATP test first. ";
        return;
      }
      yes.disabled = true;
      const sent = new FormData();
      sent.set("csrfmiddlewaretoken", field.form.elements.csrfmiddlewaretoken.value);
      sent.set("gtin", gtin);
      sent.set("product", product());
      fetch(body.dataset.scanProduct, { method: "POST", body: sent }).then(
        function (answer) {
          line.textContent = answer.ok
            ? "Recognised by its barcode from now on."
            : "Not remembered. The head brewer can enter the number in the set-up.";
        },
        function () { yes.disabled = false; },
      );
    });
    line.append(" ", yes);
  }

  // The list that a lot is chosen from, where the page has one.
  function choose(field, lot) {
    const choice = field.form.querySelector(`[name=test_lot][value="${CSS.escape(String(lot))}"]`);
    if (!choice || choice.disabled) return;
    choice.checked = true;
    choice.dispatchEvent(new Event("change", { bubbles: true }));
  }

  function fill(field, known) {
    const form = field.form;
    const folded = field.closest("details");
    if (folded) folded.open = true;
    if (known.error) {
      note(blockOf(field), known.error, true);
      return;
    }
    const expiry = form.elements.namedItem("expires_on");
    const test = form.elements.namedItem("atp_test");
    if (known.lot) set(field, known.lot);
    if (known.expires_on) set(expiry, known.expires_on);
    if (known.test_lot) choose(field, known.test_lot);
    // A page that asks which agent it is, where the field is not of one.
    const agent = field.dataset.scanAgent ? null : form.elements.namedItem("agent");
    if (agent && known.product.startsWith("agent:")) set(agent, known.product.split(":")[1]);
    if (test && known.product.startsWith("atp_test:")) set(test, known.product.split(":")[1]);
    note(blockOf(field), known.said, false);
    note(blockOf(field), known.doubt, true);
    note(blockOf(expiry || field), known.expired, true);
    if (known.asked) ask(field, known.question, known.gtin, () => known.asked);
    if (known.new && test) {
      ask(field, "This barcode is new here. Is it the ATP test chosen above?", known.gtin, function () {
        return `atp_test:${test.value}`;
      });
    }
    field.scrollIntoView({ block: "nearest" });
  }

  function go(known) {
    const typed = home.typed && home.typed.any();
    if (!typed) {
      window.location.assign(known.go);
      return;
    }
    // Nothing that is being typed is left behind without a word.
    const line = note(document.getElementById("main"), "Scanned: ", false);
    const link = document.createElement("a");
    link.href = known.go;
    link.textContent = known.name || "open it";
    line.append(link, ". What you typed here is not recorded yet.");
    document.getElementById("main").prepend(line);
    line.scrollIntoView({ block: "nearest" });
  }

  // Hand over what was scanned; `field` is the lot's field that it is for, or none.
  function deliver(text, field) {
    const asked = new URLSearchParams({ text: text });
    if (field) {
      asked.set("for", field.dataset.scanFor);
      if (field.dataset.scanAgent) asked.set("agent", field.dataset.scanAgent);
    }
    return fetch(`${body.dataset.scanAt}?${asked}`, { headers: { Accept: "application/json" } })
      .then((answer) => answer.json())
      .then(
        function (known) {
          clearNotes();
          if (known.go) go(known);
          else fill(field, known);
        },
        function () {
          clearNotes();
          const where = field ? blockOf(field) : document.getElementById("main");
          note(where, "No answer from the server. Scan again, or type the code.", true);
        },
      );
  }

  // --- a scanner that types ---------------------------------------------------------------------

  let burst = "";
  let before = "";
  let lastAt = 0;

  function takesText(node) {
    return node.isContentEditable || /^(input|textarea|select)$/i.test(node.tagName);
  }

  // Such a scanner sends the separator as Ctrl and ].
  function signOf(event) {
    if (event.ctrlKey && !event.altKey && (event.key === "]" || event.key === SEPARATOR)) return SEPARATOR;
    if (event.key === SEPARATOR) return SEPARATOR;
    if (event.ctrlKey !== event.altKey || event.metaKey) return "";
    return event.key.length === 1 ? event.key : "";
  }

  document.addEventListener(
    "keydown",
    function (event) {
      const target = event.target;
      const field = target.dataset && target.dataset.scan ? target : null;
      const elsewhere = !field && takesText(target);
      // A key that is held down repeats as fast as a scanner types.
      if (event.isComposing || event.repeat || target.type === "password") {
        burst = "";
        return;
      }
      if (event.timeStamp - lastAt > BETWEEN_MS) burst = "";
      if (event.key === "Enter") {
        const scanned = elsewhere
          ? burst.length >= SHORTEST_IN_FIELD && CODE.test(burst)
          : burst.length >= SHORTEST;
        const text = scanned ? burst : field && CODE.test(field.value) ? field.value : "";
        burst = "";
        if (!text || (field && field.dataset.scan === "any")) return;
        // Neither the form nor a button that has the focus is meant.
        event.preventDefault();
        event.stopPropagation();
        if (scanned && (field || elsewhere)) set(target, before);
        deliver(text, field || fieldHere());
        return;
      }
      const sign = signOf(event);
      if (!sign) return;
      if (!burst) before = target.value;
      burst += sign;
      lastAt = event.timeStamp;
      if (sign === SEPARATOR) {
        event.preventDefault();
        // Where the whole text is sent, the field itself has to hold it.
        if (field) field.setRangeText(SEPARATOR, field.selectionStart, field.selectionEnd, "end");
      } else if (sign === " " && !field && !elsewhere && burst.length > 1) {
        // In the middle of a code a blank scrolls no page and presses no button.
        event.preventDefault();
      }
    },
    true,
  );

  document.addEventListener("paste", function (event) {
    const field = event.target;
    if (!field.dataset || field.dataset.scan !== "lot") return;
    const text = event.clipboardData.getData("text").trim();
    if (!CODE.test(text)) return;
    event.preventDefault();
    deliver(text, field);
  });

  // --- the camera -------------------------------------------------------------------------------

  let stream = null;
  let dialog = null;

  function stop() {
    if (stream) stream.getTracks().forEach((track) => track.stop());
    stream = null;
    if (!dialog) return;
    const shown = dialog;
    dialog = null;
    shown.close();
    shown.remove();
  }

  function show() {
    const box = document.createElement("dialog");
    const video = document.createElement("video");
    const words = document.createElement("p");
    const cancel = document.createElement("button");
    box.className = "scan-box";
    box.setAttribute("aria-label", "Scan with the camera");
    video.muted = true;
    video.playsInline = true;
    words.setAttribute("role", "status");
    words.textContent = "Hold the code in front of the camera.";
    cancel.type = "button";
    cancel.textContent = "Cancel";
    cancel.addEventListener("click", stop);
    box.addEventListener("close", stop);
    box.append(video, words, cancel);
    body.append(box);
    box.showModal();
    return { box: box, video: video, words: words };
  }

  async function look(detector, shown, field) {
    while (dialog === shown.box) {
      let found = [];
      try {
        found = await detector.detect(shown.video);
      } catch {
        // The first frames may not be there yet.
      }
      if (dialog !== shown.box) return;
      if (found.length) {
        stop();
        await deliver(found[0].rawValue, field);
        return;
      }
      await new Promise((done) => setTimeout(done, LOOK_EVERY_MS));
    }
  }

  async function start(detector, field) {
    stop();
    const shown = show();
    dialog = shown.box;
    let came;
    try {
      came = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch {
      shown.words.textContent =
        "The camera cannot be used. Allow it in the browser's settings, or type the code.";
      return;
    }
    stream = came;
    // Closed while the browser asked for leave.
    if (dialog !== shown.box) {
      came.getTracks().forEach((track) => track.stop());
      stream = null;
      return;
    }
    shown.video.srcObject = came;
    // Not waited for: until the first picture has come, the detector finds nothing.
    shown.video.play().catch(function () {});
    await look(detector, shown, field);
  }

  async function prepare() {
    if (!window.isSecureContext || !window.BarcodeDetector || !navigator.mediaDevices) return;
    const able = await window.BarcodeDetector.getSupportedFormats();
    const formats = FORMATS.filter((one) => able.includes(one));
    if (!formats.length) return;
    const detector = new window.BarcodeDetector({ formats: formats });
    offer(detector);
    const link = document.querySelector("a[data-scan-link]");
    if (link) {
      link.addEventListener("click", function (event) {
        event.preventDefault();
        start(detector, fieldHere());
      });
    }
    // What follows the cellar by itself brings its fields anew.
    document.addEventListener("htmx:afterSwap", () => offer(detector));
  }

  function offer(detector) {
    document.querySelectorAll("[data-scan-start]").forEach(function (button) {
      if (!button.hidden) return;
      button.hidden = false;
      button.addEventListener("click", () => start(detector, fieldHere()));
    });
    lotFields().forEach(function (field) {
      if (field.dataset.scanOffered) return;
      field.dataset.scanOffered = "yes";
      const button = document.createElement("button");
      button.type = "button";
      button.className = "quiet";
      button.textContent = "Scan";
      button.setAttribute("aria-label", "Scan the lot");
      button.addEventListener("click", () => start(detector, field));
      field.after(button);
    });
  }

  window.addEventListener("pagehide", stop);
  document.addEventListener("visibilitychange", function () { if (document.hidden) stop(); });
  prepare();
})();
