/* Pages of the floor without a network. The server puts VERSION and FILES before this: another
   version as soon as one of the files is another. What was typed is not here but in the outbox,
   so that a new version touches none of it. */
const SHELL = `shell-${VERSION}`;
const PAGES = "pages-1";
const PATIENCE_MS = 4000;
// The floor's own pages: looked at without a network. No decision, no set-up, no admin.
const OF_THE_FLOOR = [
  /^\/$/,
  /^\/sample\/$/,
  /^\/waiting-here\/(name\/)?$/,
  /^\/vessels\/\d+\/$/,
  /^\/turnarounds\/\d+\/(samples\/(\d+\/)?)?$/,
  /^\/cleans\/\d+\/(steps\/\d+\/((end|ahead)\/)?)?$/,
  /^\/deviations\/\d+\/decide\/$/,
];
let offlineSince = null;

self.addEventListener("install", function (event) {
  event.waitUntil(
    caches.open(SHELL).then((shell) => shell.addAll(FILES)).then(() => self.skipWaiting()),
  );
});

self.addEventListener("activate", function (event) {
  event.waitUntil(
    caches
      .keys()
      .then((names) => Promise.all(names.filter((name) => name.startsWith("shell-") && name !== SHELL).map((name) => caches.delete(name))))
      .then(() => self.clients.claim()),
  );
});

function patient(request) {
  const stop = new AbortController();
  const timer = setTimeout(() => stop.abort(), PATIENCE_MS);
  return fetch(request, { signal: stop.signal }).finally(() => clearTimeout(timer));
}

async function keep(request, response) {
  const text = await response.clone().text();
  const found = text.match(/<body[^>]* data-person="(\d+)"/);
  const pages = await caches.open(PAGES);
  const last = await pages.match("/last-person");
  const person = found ? found[1] : "";
  // Another person's pages are not shown to this one.
  if (last && (await last.text()) !== person) {
    await caches.delete(PAGES);
    return person ? keep(request, response) : undefined;
  }
  if (!person) return undefined;
  await pages.put("/last-person", new Response(person));
  const path = new URL(request.url).pathname;
  if (!OF_THE_FLOOR.some((pattern) => pattern.test(path))) return undefined;
  const headers = new Headers(response.headers);
  // By the server's clock, not the tablet's.
  headers.set("X-As-Of", new Date(headers.get("Date") || Date.now()).toISOString());
  return pages.put(request.url, new Response(text, { headers: headers }));
}

async function kept(request) {
  const pages = await caches.open(PAGES);
  // Of a page that was looked at with something chosen, whichever there is.
  const found = (await pages.match(request.url)) || (await pages.match(request.url, { ignoreSearch: true }));
  if (!found) return null;
  if (!offlineSince) offlineSince = new Date().toISOString();
  const text = (await found.text()).replace(
    "<html ",
    `<html data-as-of="${found.headers.get("X-As-Of")}" data-offline-since="${offlineSince}" `,
  );
  return new Response(text, { headers: found.headers });
}

const NOTHING = `<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Offline</title>
<meta name="viewport" content="width=device-width, initial-scale=1"></head><body><main>
<h1>Offline</h1><p>The server does not answer, and this page is not on the tablet. Decisions need
the network. What you typed and is waiting is kept.</p>
<p><a href="/">Board</a></p><p><a href="/waiting-here/">Waiting on this tablet</a></p></main></body></html>`;

async function page(event) {
  try {
    const response = await patient(event.request);
    if (response.status < 500) {
      offlineSince = null;
      if (response.ok && response.type === "basic") event.waitUntil(keep(event.request, response.clone()));
      return response;
    }
    return (await kept(event.request)) || response;
  } catch {
    // Changing hands without a network is by name alone.
    const path = new URL(event.request.url).pathname;
    const found = await kept(path === "/switch/" ? new Request("/waiting-here/name/") : event.request);
    return found || new Response(NOTHING, { status: 503, headers: { "Content-Type": "text/html; charset=utf-8" } });
  }
}

async function file(request) {
  const shell = await caches.open(SHELL);
  try {
    return await patient(request);
  } catch (trouble) {
    const found = await shell.match(request, { ignoreSearch: true });
    if (found) return found;
    throw trouble;
  }
}

// Pages that may be needed without a network, before anybody opened them.
async function carry(addresses) {
  for (const address of addresses) {
    const request = new Request(address, { credentials: "same-origin" });
    try {
      const response = await patient(request);
      if (response.ok && !response.redirected) await keep(request, response);
    } catch {
      return;
    }
  }
}

self.addEventListener("message", function (event) {
  if (event.data && event.data.carry) event.waitUntil(carry(event.data.carry));
});

self.addEventListener("fetch", function (event) {
  const request = event.request;
  const url = new URL(request.url);
  if (request.method !== "GET" || url.origin !== self.location.origin) return;
  if (request.mode === "navigate") event.respondWith(page(event));
  else if (FILES.includes(url.pathname)) event.respondWith(file(request));
});
