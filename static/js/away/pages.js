// Pages that this device was asked to keep: the last good answer of each, shown only while the book
// does not answer, with the moment it was read. For one account under one key; another key, another
// account, nobody, or a log-out takes all of them off the device.
const PAGES = "keptlines-pages";
const SHELL = "keptlines-shell";
const MOST = 500;
// After so long without an answer a kept page is shown; an answer that comes later still counts. While
// the book has just been silent nobody waits as long again.
const PATIENCE = 10_000;
const SHORT = 2_000;
let silent = 0;
// A page that is on its way while all are taken off the device is not put back.
let wiped = 0;

// The list of what was sent goes with them: it is in the book. What waits stays.
async function wipe() {
  wiped += 1;
  await caches.delete(PAGES);
  await away.note("ahead", null);
  for (const { id, state } of await away.entries()) if (state === "written") await away.drop(id);
}

// Note for whom an answer was made, and drop what was kept for anybody else. Returns the count of
// `wiped` under which the answer may be kept; none if it was on its way while all was taken off.
async function heardFrom(answer, began) {
  const said = answer.headers.get("Keptlines-Reader") ?? (isUntold(answer) ? "-" : null);
  silent = 0;
  if (said === null || wiped !== began) return NaN;
  const [who, key, asked] = said === "-" ? [] : said.split(".");
  const before = await away.reader();
  const after = who ? { who, key, asked: asked === "1" } : null;
  if (JSON.stringify(before) === JSON.stringify(after)) return began;
  await wipe();
  await away.note("reader", after);
  return wiped === began + 1 ? wiped : NaN;
}

// A page of the book that says nothing: the cookie that asked this device is gone. What stands in
// between, as a proxy without the book behind it, has neither such a policy nor a say.
function isUntold({ ok, headers }) {
  return ok && headers.get("Content-Type")?.startsWith("text/html") && headers.has("Content-Security-Policy");
}

// What led to a page is no part of its name: what the last save moved, which entry was kept.
function nameOf(address) {
  const url = new URL(address);
  for (const passing of ["moved", "kept", "again"]) url.searchParams.delete(passing);
  url.hash = "";
  return url.href;
}

async function keepPage(address, answer, began) {
  const kind = answer.headers.get("Keptlines-Keep");
  if (!kind || answer.status !== 200 || answer.redirected || wiped !== began) {
    await answer.body?.cancel();
    return;
  }
  // The book's policy of content goes with the page.
  const headers = new Headers(answer.headers);
  for (const name of ["Content-Encoding", "Content-Length"]) headers.delete(name);
  headers.set("Keptlines-At", new Date().toISOString());
  const body = await answer.blob();
  if (wiped !== began) return;
  const kept = await caches.open(PAGES);
  try {
    await kept.put(nameOf(address), new Response(body, { headers }));
    await away.note("room", null);
  } catch {
    await away.note("room", "none"); // the browser gives no more: what is kept stays as it is
  }
  const every = await kept.keys();
  for (const old of every.slice(0, Math.max(0, every.length - MOST))) await kept.delete(old);
  if (wiped !== began) await caches.delete(PAGES);
}

// The kept copy of an address, if it is of whoever was last known to be logged in.
async function keptCopy(address) {
  const reader = await away.reader();
  const found = reader && (await (await caches.open(PAGES)).match(nameOf(address)));
  const [who, key] = found?.headers.get("Keptlines-Reader").split(".") ?? [];
  return found && who === reader.who && key === reader.key ? found : null;
}

// Say on a kept page when it was read, and give its forms tokens of their own: each is good once.
async function stamped(found) {
  const at = found.headers.get("Keptlines-At");
  const html = (await found.text())
    .replace(/(name="once" value=")[0-9a-f]{32}/g, (_, before) => before + away.newToken())
    .replace(
      '<div class="notices"',
      () => `<div class="notice warning kept-page" data-kept-at="${at}"><p><strong>No answer from the book.</strong> ` +
        `This page is as it was read on <time datetime="${at}">${away.when(at)}</time>; it may be out of date. ` +
        'What you save is kept on this device and sent later.</p></div><div class="notices"',
    );
  return new Response(html, { headers: found.headers });
}

async function noConnection(why) {
  if (why) return Response.redirect(`${SETUP.none}?why=${why}`, 303);
  const shell = await caches.open(SHELL);
  return (await shell.match(SETUP.none, { ignoreSearch: true })) ?? Response.error();
}

// A page or a picture: of the book if it answers, whatever it says; else the kept copy.
async function answered(event) {
  const { request } = event;
  const began = wiped;
  const isPage = request.mode === "navigate";
  const asked = fetch(request).then(async (answer) => {
    const copy = answer.clone();
    const heard = await heardFrom(answer, began);
    event.waitUntil(keepPage(request.url, copy, heard));
    return answer;
  });
  event.waitUntil(asked.catch(() => {}));
  try {
    return await Promise.race([asked, isPage ? patience(request.url) : new Promise(() => {})]);
  } catch {
    const found = await keptCopy(request.url);
    if (!isPage) return found ?? Response.error();
    // What waits is read off the device itself, so it is never out of date.
    if (found && new URL(request.url).pathname === SETUP.waiting) return found;
    return found ? stamped(found) : noConnection();
  }
}

function isSilent() {
  return Date.now() - silent < 60_000;
}

// Give up waiting where there is a copy to show; without one there is nothing better than to wait.
async function patience(address) {
  const isList = new URL(address).pathname === SETUP.waiting;
  await new Promise((resolve) => setTimeout(resolve, isList || isSilent() ? SHORT : PATIENCE));
  if (!(await keptCopy(address))) await new Promise(() => {});
  silent = Date.now();
  throw new Error("no answer in time");
}

// Styles, scripts and fonts have a digest in their address, or never change under it.
async function shellFile(event) {
  const shell = await caches.open(SHELL);
  const found = await shell.match(event.request.url);
  if (found) return found;
  const answer = await fetch(event.request);
  if (answer.ok) event.waitUntil(shell.put(event.request.url, answer.clone()));
  return answer;
}
