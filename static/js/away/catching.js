// A form that is sent while the book does not answer is kept on the device, with all that was typed,
// its pictures and its one-time token. Whether the book got it and only the answer was lost does not
// matter: sent again, it leads to the entry that it made.
const LARGEST = 25 * 1024 * 1024;
// So long a form may be on its way: longer than a writer waits in the book's own queue.
const ANSWER_BY = 30_000;
// What a page said of its form as it was sent: how its fields are called, and what was chosen.
const told = new Map();

function isExempt({ pathname }) {
  return SETUP.notWaiting.some((one) => pathname.startsWith(one) || pathname.endsWith(one));
}

async function caught(event) {
  const { request } = event;
  // Not even read here: it may be a file as large as the book.
  if (isExempt(new URL(request.url))) return fetch(request).catch(() => noConnection("not-waiting"));
  const copy = request.clone();
  const asked = fetch(request);
  const late = new Promise((_, reject) => setTimeout(reject, isSilent() ? 3 * SHORT : ANSWER_BY));
  try {
    return await Promise.race([asked, late]);
  } catch {
    silent = Date.now();
    asked.catch(() => {});
    try {
      return await kept(request, await copy.formData());
    } catch {
      return noConnection("no-room");
    }
  }
}

async function kept(request, form) {
  const url = new URL(request.url);
  const reader = await away.reader();
  const fields = [...form].filter(([name]) => name !== "csrfmiddlewaretoken");
  const typed = fields.filter(([, value]) => typeof value === "string");
  const files = fields.filter(([, value]) => typeof value !== "string" && value.size);
  if (!reader?.asked) return noConnection("not-asked");
  if (!form.has("once") || typed.some(([name]) => /pass(word|phrase)/.test(name))) {
    return noConnection("not-waiting");
  }
  if (files.reduce((sum, [, file]) => sum + file.size, 0) > LARGEST) return noConnection("large");
  const entry = {
    who: reader.who,
    address: url.pathname + url.search,
    page: pageOf(request),
    at: Date.now(),
    typed,
    files: files.map(([name, file]) => ({ name, file, called: file.name })),
    state: "waiting",
    words: [],
  };
  const [id, again] = await put(entry);
  return Response.redirect(`${SETUP.waiting}?kept=${id}${again}`, 303);
}

// The same form twice is one entry. Sent again with something else in it, it is another one.
async function put(entry) {
  const token = away.token(entry);
  entry.said = told.get(token) ?? null;
  const before = (await away.entries()).find((one) => away.token(one) === token);
  let again = "";
  if (before && same(before, entry)) return [before.id, "&again=same"];
  if (before) {
    const fresh = away.newToken();
    entry.typed = entry.typed.map(([name, value]) => [name, name === "once" ? fresh + value.slice(32) : value]);
    again = "&again=other";
  }
  entry.subjects = away.subjects(entry);
  return [await away.keep(entry), again];
}

function same(one, other) {
  const plain = ({ typed, files, address }) =>
    JSON.stringify([address, typed, files.map(({ name, file, called }) => [name, called, file.size])]);
  return plain(one) === plain(other);
}

function pageOf(request) {
  const from = request.referrer ? new URL(request.referrer) : null;
  const page = from?.origin === location.origin ? from : new URL(request.url);
  page.searchParams.delete("moved");
  return page.pathname + page.search;
}
