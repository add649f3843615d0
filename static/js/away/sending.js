// Sending what waits: in order, one at a time, in one tab only, each by the token of its form, so that
// an answer that was lost makes no second entry. What the book refuses stays, with its words; what
// comes after it on the same animal or clutch is held back until that is settled.
const HERE = "/me/offline/now/";

async function whereTheBookIs(tokens = []) {
  const asked = await fetch(`${HERE}?of=${tokens.join(",")}`, { signal: AbortSignal.timeout(20_000) });
  if (asked.redirected) return { stops: "log-in" };
  if (!asked.headers.get("Content-Type")?.startsWith("application/json")) {
    return { stops: asked.status >= 500 || asked.status === 429 ? "later" : "elsewhere" };
  }
  return asked.json();
}

async function post(entry, { csrf }) {
  const body = new FormData();
  for (const [name, value] of entry.typed) body.append(name, value);
  for (const { name, file, called } of entry.files) body.append(name, file, called);
  body.append("csrfmiddlewaretoken", csrf);
  const headers = { "Keptlines-Waited": entry.who };
  const asked = await fetch(entry.address, {
    method: "POST", body, headers, redirect: "manual", signal: AbortSignal.timeout(60_000),
  });
  if (asked.headers.get("Content-Type")?.startsWith("application/json")) return asked.json();
  return { outcome: asked.type === "opaqueredirect" || asked.status < 500 ? "elsewhere" : "later" };
}

// The words of a page that refuses: its faults, else its notices, else its heading and first lines.
function wordsOf(html) {
  const page = new DOMParser().parseFromString(html ?? "", "text/html");
  const text = (one) => one.textContent.replace(/\s+/g, " ").trim();
  const asks = page.querySelector(".faults button[name=insist]");
  for (const where of [".faults li", ".errorlist li", ".notice.error"]) {
    const found = [...page.querySelectorAll(where)].map(text).filter(Boolean);
    if (found.length) return { words: found, insist: asks?.value ?? "" };
  }
  const said = [...page.querySelectorAll("h1, .lead, .sheet p:not(.book-name)")].map(text).filter(Boolean);
  return { words: ["The book wrote nothing yet. It answered:", ...said.slice(0, 3)], insist: "" };
}

const SAYS = {
  answered: "The book answered and wrote no entry. Open the form and look whether something is left to do.",
  restored: "The book was set back to an earlier copy after this was made, and what it is about may be another record now. Nothing of it was written.",
};

// Take in what the book said of an entry; whether the next may be sent.
async function takeIn(entry, told) {
  const { outcome } = told;
  if (["later", "log-in", "other-account", "elsewhere", "again"].includes(outcome)) {
    await away.note("stopped", { why: outcome, at: Date.now() });
    return false;
  }
  if (outcome === "written") inTheBook(entry, told);
  else if (outcome === "refused") Object.assign(entry, { state: "refused" }, wordsOf(told.shown));
  else Object.assign(entry, { state: outcome, words: [...(told.words ?? []), SAYS[outcome] ?? ""] });
  await away.keep(entry);
  return true;
}

function inTheBook(entry, { entry: at, page = "", words = [] }) {
  // Its pictures are in the book: what is listed for a few days more is what was typed.
  Object.assign(entry, { state: "written", entry: at, leads: page, words, sent: Date.now(), files: [] });
}

async function sendAll() {
  const own = await away.own();
  const open = own.filter(({ state }) => state !== "written");
  if (!open.length) return;
  const book = await whereTheBookIs(open.map(away.token));
  if (book.stops) {
    await away.note("stopped", { why: book.stops, at: Date.now() });
    return;
  }
  await away.note("heard", Date.now());
  await away.note("better", book.better);
  if (open[0].who !== book.who) {
    await away.note("stopped", { why: "other-account", at: Date.now() });
    return;
  }
  await away.note("stopped", null);
  const blocked = new Set();
  for (const { id } of open) {
    const entry = await away.entry(id); // it may have been taken back since
    if (!entry) continue;
    const token = away.token(entry);
    if (book.written[token]) {
      inTheBook(entry, { entry: book.written[token] });
      await away.keep(entry);
      continue;
    }
    const held = entry.subjects.some((one) => blocked.has(one));
    if (away.OPEN.includes(entry.state) && !held) {
      let told = await post(entry, book);
      if (told.outcome === "again") told = await post(entry, Object.assign(book, await whereTheBookIs()));
      if (!(await takeIn(entry, told))) return;
    } else if (away.OPEN.includes(entry.state)) {
      await away.keep({ ...entry, state: "held" });
    }
    if (entry.state !== "written") for (const one of entry.subjects) blocked.add(one);
  }
}

// Two tabs do not send at once, and nothing is taken back while it is on its way.
away.alone = (act, how = {}) => navigator.locks.request("keptlines-sending", how, act);

// What somebody asked for waits for a try that is under way, which may be about to fail; what is tried
// by itself (`ifAvailable`) leaves it at that one.
away.send = (how = {}) =>
  away.alone(
    async (lock) => {
      if (!lock) return;
      await away.note("sending", Date.now());
      away.tell();
      try {
        await sendAll();
      } catch {
        await away.note("stopped", { why: "no-connection", at: Date.now() });
      } finally {
        await away.note("sending", null);
        away.tell();
        away.changed?.();
      }
    },
    how,
  );
