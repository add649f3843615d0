// The worker of the whole site, on devices that were asked to keep pages. SETUP stands before it.
addEventListener("install", (event) => {
  event.waitUntil(
    caches.open(SHELL).then(async (shell) => {
      for (const address of SETUP.shell) {
        // Without a cookie: what is kept here is the same for everybody.
        const answer = await fetch(address, { credentials: "omit" });
        if (answer.ok) await shell.put(new URL(address, location.origin).href, answer);
      }
      await skipWaiting();
    }),
  );
});

addEventListener("activate", (event) => event.waitUntil(trimmed().then(() => clients.claim())));

// Files of earlier versions stay for the pages that were read with them, but not for ever.
async function trimmed() {
  const shell = await caches.open(SHELL);
  const every = await shell.keys();
  for (const old of every.slice(0, Math.max(0, every.length - 300))) await shell.delete(old);
}

addEventListener("fetch", (event) => {
  const { request } = event;
  const url = new URL(request.url);
  if (url.origin !== location.origin) return;
  if (request.method === "POST") {
    if (url.pathname === SETUP.logOut) event.respondWith(loggedOut(request));
    else if (request.mode === "navigate") event.respondWith(caught(event));
  } else if (request.method !== "GET") return;
  else if (url.pathname.startsWith("/static/")) event.respondWith(shellFile(event));
  else if (isKeepable(request, url)) event.respondWith(answered(event));
});

function isKeepable(request, { pathname }) {
  if (request.mode === "navigate") return true;
  return request.headers.has("Keptlines-Ahead") || (request.destination === "image" && pathname.startsWith("/animals/"));
}

// Whoever logs out leaves no page behind, also where the book cannot be told.
async function loggedOut(request) {
  await wipe();
  await away.note("reader", null);
  try {
    return await fetch(request);
  } catch {
    return noConnection("log-out");
  } finally {
    await wipe();
  }
}

addEventListener("message", (event) => {
  const { said, wipes } = event.data ?? {};
  if (said) {
    told.set(said.token, said);
    if (told.size > 50) told.delete(told.keys().next().value);
  }
  if (wipes) event.waitUntil(wipe());
});
