// On every page of a device that keeps pages: the worker, how many entries wait, sending them, and
// what a kept page needs that the book did not make just now.
const mark = document.querySelector("[data-away-mark]");
const OFTEN = 30_000;
const AHEAD = 6 * 3600 * 1000;

away.changed = async () => {
  const own = await away.own();
  const waits = own.filter(({ state }) => away.OPEN.includes(state)).length;
  const needs = own.filter(({ state }) => away.NEEDS.includes(state)).length;
  if (mark) {
    const said = [waits && `${waits} not sent yet`, needs && `${needs} ${needs > 1 ? "need" : "needs"} you`];
    mark.hidden = !waits && !needs;
    mark.textContent = said.filter(Boolean).join(" · ");
    mark.classList.toggle("needs-you", needs > 0);
  }
  await away.listed?.();
  return waits;
};

away.heard?.addEventListener("message", () => away.changed());

async function sendIfAny(which, how = { ifAvailable: true }) {
  const own = await away.own();
  if (own.some(({ state }) => which.includes(state))) await away.send(how);
  for (const { id, state, sent } of own) {
    if (state === "written" && Date.now() - sent > away.DAYS_LISTED * 24 * 3600 * 1000) await away.drop(id);
  }
}

// Pages that were not opened yet are read ahead, one after another, while nobody waits for them.
away.readAhead = async (said = () => {}) => {
  const asked = await fetch("/me/offline/ahead/");
  if (!asked.ok || asked.redirected) return false;
  const { addresses } = await asked.json();
  for (const [at, address] of addresses.entries()) {
    said(at, addresses.length);
    await fetch(address, { headers: { "Keptlines-Ahead": "1" }, redirect: "error" }).then((one) => one.blob());
  }
  said(addresses.length, addresses.length);
  await away.note("ahead", Date.now());
  return true;
};

// What a form says of itself as it is sent, so that it reads the same where it waits.
function saidOf(form) {
  const label = (control) => control.closest("fieldset")?.querySelector("legend") ?? control.labels?.[0];
  const text = (one) => one?.textContent.replace(/\s+/g, " ").trim() ?? "";
  const rows = [];
  for (const control of form.elements) {
    if (!isTyped(control) || control.type === "hidden" || control.disabled) continue;
    const box = ["radio", "checkbox"].includes(control.type);
    if (box && !control.checked) continue;
    const chosen = control.selectedOptions ? [...control.selectedOptions].map(text).join(", ") : control.value;
    const day = control.type === "date" && control.valueAsDate;
    const own = day ? away.dayInWords(day) : box ? text(control.labels?.[0]) : chosen;
    if (own) rows.push([text(label(control)) || control.name, own]);
  }
  const title = document.querySelector("h1");
  return { token: form.elements.once.value.slice(0, 32), title: text(title), rows };
}

addEventListener("submit", ({ target: form }) => {
  if (form.method !== "post" || !form.elements.once) return;
  navigator.serviceWorker?.controller?.postMessage({ said: saidOf(form) });
}, true);

// A day that was filled in as the page was read is that of now, where nobody chose another one.
function daysOfNow(readAt) {
  const [then, now] = [away.day(readAt), away.day(Date.now())];
  if (then === now) return;
  for (const field of document.querySelectorAll("input[type=date], input[data-today]")) {
    if (field.value !== then || field.defaultValue !== then) continue;
    field.value = now;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
}

// Whoever logs out is told what is not in the book yet.
addEventListener("submit", async (event) => {
  const out = event.target;
  if (!out.matches("form[data-log-out]") || out.dataset.sure) return;
  event.preventDefault();
  event.stopPropagation();
  const waits = (await away.own().catch(() => [])).filter(({ state }) => state !== "written").length;
  const asks = `${waits === 1 ? "One entry is" : `${waits} entries are`} not in the book yet. After you log out ` +
    `${waits === 1 ? "it stays" : "they stay"} on this device, to be sent when you log in here again. Log out?`;
  if (waits && !confirm(asks)) return;
  out.dataset.sure = "yes";
  out.requestSubmit();
}, true);

async function begin() {
  const read = document.querySelector("[data-kept-at]");
  if (read) daysOfNow(read.dataset.keptAt);
  await away.changed();
  if (document.body.dataset.account && "serviceWorker" in navigator && mark) {
    await navigator.serviceWorker.register("/worker.js", { scope: "/" });
  }
  if (document.body.dataset.account && !read) await sendIfAny([...away.OPEN, ...away.NEEDS]);
  const ahead = await away.noted("ahead");
  if (mark && !read && navigator.serviceWorker?.controller && Date.now() - (ahead ?? 0) > AHEAD && location.pathname === "/") {
    await away.readAhead();
  }
}

const isSeen = () => document.visibilityState === "visible";
const sendSoon = () => isSeen() && sendIfAny(["waiting"]).catch(() => {});
// A try under way may have begun before there was a connection, and be about to fail.
addEventListener("online", () => isSeen() && sendIfAny(["waiting"], {}).catch(() => {}));
addEventListener("online", () => {
  const read = document.querySelector("[data-kept-at]");
  if (!read || read.querySelector("a")) return;
  const anew = made("a", { className: "button", href: location.href.split("#")[0] }, "Read it anew");
  read.append(made("p", {}, "There is a connection again. What you typed here and did not save goes if you ", anew));
});
document.addEventListener("visibilitychange", sendSoon);
setInterval(sendSoon, OFTEN);
begin().catch(() => {}); // without a place to keep anything the page is as on any other device
