/* What was typed on this tablet and is not yet taken by the server, in the browser's own database:
   written through to the disk before anything is sent. */
(function () {
  "use strict";

  // Of one kept form. A later version of the app reads the earlier ones.
  const FORMAT = 1;
  const NAME = "brewhygiene";
  let opening = null;

  function open() {
    if (!opening) {
      opening = new Promise(function (done, fail) {
        const asked = indexedDB.open(NAME, 1);
        asked.onupgradeneeded = function () {
          asked.result.createObjectStore("outbox", { keyPath: "id", autoIncrement: true });
        };
        asked.onsuccess = function () {
          // Another tab with a newer version may change the database.
          asked.result.onversionchange = function () {
            asked.result.close();
            opening = null;
          };
          done(asked.result);
        };
        asked.onerror = function () { fail(asked.error); };
      });
      opening.catch(function () { opening = null; });
    }
    return opening;
  }

  async function run(mode, act) {
    const base = await open();
    return new Promise(function (done, fail) {
      const way = base.transaction("outbox", mode, { durability: "strict" });
      const asked = act(way.objectStore("outbox"));
      // Not when the request is through, but when the transaction is on the disk.
      way.oncomplete = function () { done(asked.result); };
      way.onerror = function () { fail(way.error || asked.error); };
      way.onabort = function () { fail(way.error || asked.error); };
    });
  }

  const channel = "BroadcastChannel" in window ? new BroadcastChannel("outbox") : null;
  function changed() {
    document.dispatchEvent(new Event("outbox:changed"));
    if (channel) channel.postMessage("changed");
  }
  if (channel) {
    channel.onmessage = function () { document.dispatchEvent(new Event("outbox:changed")); };
  }

  window.outbox = {
    all: function () { return run("readonly", (box) => box.getAll()); },
    // Gives its number: items are sent in that order.
    add: async function (item) {
      const id = await run("readwrite", (box) => box.add({ format: FORMAT, state: "waiting", ...item }));
      changed();
      return id;
    },
    put: async function (item) {
      await run("readwrite", (box) => box.put(item));
      changed();
    },
    remove: async function (id) {
      await run("readwrite", (box) => box.delete(id));
      changed();
    },
    newKey: function () {
      const bytes = crypto.getRandomValues(new Uint8Array(16));
      return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    },
  };
})();
