// Which pages this device has kept, each with when it was read; and a form of an entry that waited,
// with all that was typed put back into it.
const KINDS = ["Today", "Rounds", "Animals you opened", "Clutches you opened", "Forms for what is new"];
const shelf = document.querySelector("[data-away-kept]");

async function listKept() {
  const reader = await away.reader();
  const found = reader && "caches" in window && (await caches.has("keptlines-pages"));
  const cache = found ? await caches.open("keptlines-pages") : null;
  const rows = [];
  for (const request of cache ? await cache.keys() : []) {
    const answer = await cache.match(request);
    const kind = answer.headers.get("Keptlines-Keep");
    const isList = new URL(request.url).pathname === "/me/waiting/";
    if (isList || !answer.headers.get("Content-Type").startsWith("text/html")) continue;
    const title = /<title>([^<]*) · /.exec(await answer.text())?.[1] ?? request.url;
    const url = new URL(request.url);
    rows.push({ kind, title: made("textarea", { innerHTML: title }).value, at: answer.headers.get("Keptlines-At"), to: url.pathname + url.search });
  }
  // The latest first; rounds as people count.
  rows.sort((one, other) => (one.kind === "Rounds" && other.kind === "Rounds" ? one.title.localeCompare(other.title, "en", { numeric: true }) : other.at.localeCompare(one.at)));
  const kinds = [...new Set(rows.map(({ kind }) => kind))].sort((one, other) => KINDS.indexOf(one) - KINDS.indexOf(other));
  shelf.replaceChildren(
    ...kinds.map((kind) =>
      made("section", {}, made("h3", {}, kind), made("ul", {}, ...rows.filter((one) => one.kind === kind).map(
        ({ to, title, at }) => made("li", {}, made("a", { href: to }, title), made("span", { className: "soft" }, ", read ", timeOf(at))),
      ))),
    ),
  );
  if (!rows.length) shelf.replaceChildren(made("p", {}, "No page is kept on this device now."));
}

async function putBackWaited(id) {
  const entry = await away.entry(id);
  if (!entry || entry.who !== (await away.who()) || entry.state === "written") return;
  const forms = [...document.querySelectorAll("form[method=post]")].filter((form) => form.elements.once);
  const of = (form) => new URL(form.getAttribute("action") || location.href, location.href);
  const fits = (form) => entry.typed.filter(([name]) => form.elements[name]).length;
  const there = forms.filter((form) => of(form).pathname === new URL(entry.address, location.origin).pathname);
  const form = there.sort((one, other) => fits(other) - fits(one))[0];
  if (!form) {
    const words = "This page has no form now for what waited. It is still listed, with all that was typed.";
    document.querySelector("main").prepend(made("p", { className: "notice warning" }, words));
    return;
  }
  // It stands in for a draft of the same form in this tab.
  forget((draft) => draft?.token === away.token(entry));
  for (const draft of form.parentElement.querySelectorAll(":scope > .notice.draft")) draft.remove();
  const left = putBack(form, entry.typed);
  for (const { name, file, called: as } of entry.files) {
    const field = form.elements[name];
    if (!(field instanceof HTMLInputElement) || field.type !== "file") continue;
    const held = new DataTransfer();
    for (const one of field.files) held.items.add(one);
    held.items.add(new File([file], as, { type: file.type }));
    field.files = held.files;
  }
  const words = ["What waited on this device was put back; it is not saved yet.", ...entry.words];
  if (left.length) words.push(`This form has no place now for: ${left.join(" · ")}`);
  const said = made("div", { className: "notice warning draft" }, ...words.filter(Boolean).map((one) => made("p", {}, one)));
  said.setAttribute("role", "status");
  for (let box = form.parentElement; box; box = box.parentElement) if (box.tagName === "DETAILS") box.open = true;
  form.before(said);
  said.scrollIntoView({ block: "center" });
}

if (shelf) listKept();
const asksFor = /^#waited=(\d+)$/.exec(location.hash);
if (asksFor) putBackWaited(Number(asksFor[1]));
