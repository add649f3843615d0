// The page where a keeper lets this device keep pages. First what is missing for it, if anything is.
const keeps = document.querySelector("[data-away-keep]");
const stops = document.querySelector("[data-away-stop]");
const ahead = document.querySelector("[data-away-ahead]");
const progress = document.querySelector("[data-away-progress]");

function missing() {
  if (!isSecureContext) return "secure";
  const has = "serviceWorker" in navigator && "indexedDB" in window && "locks" in navigator && "caches" in window;
  return has ? "" : "browser";
}

function show(why) {
  for (const one of document.querySelectorAll("[data-missing]")) one.hidden = one.dataset.missing !== why;
}

keeps?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const lacks = missing();
  show(lacks);
  if (lacks) return;
  try {
    await navigator.serviceWorker.register("/worker.js", { scope: "/" });
    await navigator.serviceWorker.ready;
  } catch {
    show("trust"); // a warning that was clicked away lets pages be read, and no worker be fetched
    return;
  }
  const stays = await navigator.storage?.persist?.().catch(() => false);
  await away.note("stays", Boolean(stays));
  keeps.submit();
});

stops?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const waits = (await away.own()).filter(({ state }) => state !== "written").length;
  if (waits) {
    show("waits");
    return;
  }
  navigator.serviceWorker.controller?.postMessage({ wipes: true });
  await caches.delete("keptlines-pages");
  await away.note("reader", null);
  stops.submit();
});

async function readNow() {
  ahead.disabled = true;
  try {
    const done = await away.readAhead((at, of) => {
      progress.textContent = at < of ? `Reading ${at + 1} of ${of} …` : `${of} pages were read and kept.`;
    });
    if (!done) progress.textContent = "The book did not say which pages. Log in again, and read them then.";
  } catch {
    progress.textContent = "The connection went away. What was read so far is kept; read the rest later.";
  }
  ahead.disabled = false;
  if (shelf) await listKept();
}

async function start() {
  show(missing());
  if (!document.querySelector("[data-away-mark]")) {
    // No account keeps pages here any more.
    for (const one of (await navigator.serviceWorker?.getRegistrations?.()) ?? []) await one.unregister();
    return;
  }
  if (!ahead) return;
  await navigator.serviceWorker.ready;
  if (!navigator.serviceWorker.controller) await new Promise((done) => navigator.serviceWorker.addEventListener("controllerchange", done, { once: true }));
  const [stays, room] = [await away.noted("stays"), await away.noted("room")];
  document.querySelector("[data-away-stays]").hidden = Boolean(stays);
  document.querySelector("[data-away-room]").hidden = room !== "none";
  if (!(await away.noted("ahead"))) await readNow();
}

ahead?.addEventListener("click", readNow);
start().catch(() => {});
