// The list of what waits on this device, in the order in which it is sent.
const listed = document.querySelector("[data-away-list]");
const aside = document.querySelector("[data-away-told]");
const sendNow = document.querySelector("[data-away-send]");
const WHY = {
  "no-connection": "The book does not answer here. It is tried again by itself while a page of the book is open.",
  later: "The book is busy or being started. It is tried again by itself.",
  "log-in": "Nobody is logged in here any more. Log in, and it is sent.",
  "other-account": "Somebody else is logged in here. It is sent when whoever made it logs in.",
  elsewhere: "Something else than the book answers at this address. Perhaps the book is reached under another one by now: save the entries as a file here, and take it in there.",
  again: "The book does not take this browser's forms now. Open any page of it anew.",
};
const HEADS = {
  waiting: "Kept on this device, not yet in the book",
  held: "Held back: one above on the same animal or clutch needs you first",
  refused: "Not in the book: it needs you",
  answered: "Answered: it needs you",
  restored: "Not in the book: the book was restored meanwhile",
  written: "In the book",
};

function button(text, act, kind = "") {
  const one = made("button", { type: "button", className: `button ${kind}`.trim() }, text);
  one.addEventListener("click", async () => {
    one.disabled = true;
    await act();
    await away.changed();
  });
  return one;
}

async function sendAgain(entry, more = []) {
  await away.alone(async () => {
    const now = await away.entry(entry.id);
    if (!now || now.state === "written") return;
    now.typed = [...now.typed.filter(([name]) => !more.length || name !== "insist"), ...more];
    await away.keep({ ...now, state: "waiting", words: [] });
  });
  await away.send();
}

async function takeBack(entry) {
  if (!confirm(`Take “${titleOf(entry)}” off this device for good? It is not in the book.`)) return;
  await away.alone(async () => {
    const now = await away.entry(entry.id);
    if (now && now.state !== "written") await away.drop(entry.id);
  });
}

function actionsOf(entry) {
  const form = `${entry.page}#waited=${entry.id}`;
  const mends = made("a", { className: entry.insist ? "button" : "button main", href: form }, "Open the form with what was typed");
  const back = button("Take it back", () => takeBack(entry), "quiet");
  const again = button("Send it again", () => sendAgain(entry));
  if (entry.state === "written") {
    const leads = entry.leads && made("a", { className: "button", href: entry.leads }, "Its page");
    return [made("a", { className: "button", href: entry.entry }, "The entry"), leads, button("Off the list", () => away.drop(entry.id), "quiet")];
  }
  if (entry.state === "refused" && entry.insist) {
    return [button("Save it all the same", () => sendAgain(entry, [["insist", entry.insist]]), "main"), mends, back];
  }
  if (["refused", "answered"].includes(entry.state)) return [mends, again, back];
  return [back];
}

function itemOf(entry) {
  const words = entry.words.filter(Boolean);
  const rows = rowsOf(entry).flatMap(([name, value]) => [made("dt", {}, name), made("dd", {}, value)]);
  const item = made(
    "li", { className: "waits", id: `waits-${entry.id}` },
    made(listed.dataset.level, {}, titleOf(entry)),
    made("p", { className: away.NEEDS.includes(entry.state) ? "needs-you" : "soft" }, made("strong", {}, HEADS[entry.state]), entry.sent ? ", sent " : ", made ", timeOf(entry.sent ?? entry.at)),
    words.length ? made("ul", { className: "said" }, ...words.map((one) => made("li", {}, one))) : "",
    made("details", { open: entry.state !== "written" && rows.length < 9 }, made("summary", {}, "What was typed"), rows.length ? made("dl", { className: "typed" }, ...rows) : made("p", {}, "A button alone.")),
    made("div", { className: "form-actions" }, ...actionsOf(entry)),
  );
  item.dataset.state = entry.state;
  return item;
}

async function tellStanding(others) {
  const [stopped, sending, better, heard] = await Promise.all(["stopped", "sending", "better", "heard"].map(away.noted));
  const said = [];
  if (sending && Date.now() - sending < 60_000) said.push("Sending …");
  else if (stopped) said.push(WHY[stopped.why], `Last tried ${away.when(stopped.at)}.`);
  if (stopped && heard) said.push(`The book last answered ${away.when(heard)}, at ${location.origin}.`);
  if (better && better !== location.origin) said.push(`The book is also reached at ${better}, which stays the same: send what waits here, then open it there from now on.`);
  if (others) said.push(`${others} more of somebody else wait on this device; they are sent when that person logs in here.`);
  aside.replaceChildren(...said.map((one) => made("p", {}, one)));
  aside.hidden = !said.length;
}

away.listed = async () => {
  if (!listed) return;
  const [own, every] = [await away.own(), await away.entries()];
  const open = own.filter(({ state }) => state !== "written");
  const sent = own.filter(({ state }) => state === "written").reverse();
  listed.replaceChildren(...[...open, ...sent].map(itemOf));
  document.querySelector("[data-away-none]").hidden = own.length > 0;
  for (const one of document.querySelectorAll("[data-away-some]")) one.hidden = !open.length;
  await tellStanding(every.filter(({ who, state }) => state !== "written" && !own.some((mine) => mine.who === who)).length);
};

async function begun() {
  const asked = new URLSearchParams(location.search);
  const why = document.querySelector(`[data-why="${asked.get("why") ?? (asked.has("kept") ? `kept-${asked.get("again") ?? "new"}` : "")}"]`);
  if (why) why.hidden = false;
  // What was kept here needs no draft in the tab besides; else the next form would begin with it.
  const entry = await away.entry(Number(asked.get("kept")));
  if (entry && typeof forget === "function") forget((draft) => draft?.token === away.token(entry));
}

// Tapped again and again it is one more try.
let underWay = null;
sendNow?.addEventListener("click", () => {
  underWay ??= away.send().finally(() => (underWay = null));
});
if (listed) begun().finally(() => away.listed());
