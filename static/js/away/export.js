// Entries as a file, and back: for an address of the book that changed, or to keep a copy apart.
const saves = document.querySelector("[data-away-save]");
const takes = document.querySelector("[data-away-take]");
const taken = document.querySelector("[data-away-taken]");
const IS_A = "entries that wait for the book";

async function written(file) {
  const bytes = new Uint8Array(await file.arrayBuffer());
  let text = "";
  for (let at = 0; at < bytes.length; at += 8192) text += String.fromCharCode(...bytes.subarray(at, at + 8192));
  return btoa(text);
}

function read64({ name, called, type, content }) {
  const bytes = Uint8Array.from(atob(content), (one) => one.charCodeAt(0));
  return { name, called, file: new File([bytes], called, { type }) };
}

async function asFile() {
  const open = (await away.own()).filter(({ state }) => state !== "written");
  const entries = [];
  for (const { id, files, ...entry } of open) {
    const held = [];
    for (const { name, called, file } of files) {
      held.push({ name, called, type: file.type, content: await written(file) });
    }
    entries.push({ ...entry, files: held });
  }
  const said = { is: IS_A, from: location.origin, saved: new Date().toISOString(), entries };
  const file = new Blob([JSON.stringify(said, null, 1)], { type: "application/json" });
  const link = made("a", { href: URL.createObjectURL(file), download: `waiting-${away.day(Date.now())}.json` });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}

function isEntry(one) {
  const pairs = Array.isArray(one?.typed) && one.typed.every((pair) => pair.length === 2 && pair.every((text) => typeof text === "string"));
  const inside = [one?.address, one?.page].every((path) => typeof path === "string" && /^\/(?!\/)/.test(path));
  return pairs && inside && Array.isArray(one.files) && /^[0-9a-f]{32}/.test(away.valueOf(one, "once"));
}

async function takeIn64(file) {
  let said;
  try {
    said = JSON.parse(await file.text());
  } catch {
    return "That is no file of entries. Nothing was taken in. Choose the file that was saved on a page like this.";
  }
  if (said?.is !== IS_A || !Array.isArray(said.entries) || !said.entries.every(isEntry)) {
    return "That is no file of entries, or one that was changed. Nothing was taken in. Choose the file as it was saved.";
  }
  const mine = await away.who();
  const here = new Set((await away.entries()).map(away.token));
  const own = said.entries.filter(({ who }) => who === mine);
  const fresh = own.filter((one) => !here.has(away.token(one)));
  for (const one of fresh) {
    const { who, address, page, at, typed } = one;
    const files = one.files.map(read64);
    await away.keep({ who, address, page, at, typed, files, said: one.said ?? null, subjects: away.subjects(one), state: "waiting", words: [] });
  }
  const left = [
    own.length - fresh.length && `${own.length - fresh.length} are here already`,
    said.entries.length - own.length && `${said.entries.length - own.length} are of another account or another book and were left out`,
  ].filter(Boolean);
  return [`${fresh.length} taken in.`, left.length ? `${left.join("; ")}.` : ""].join(" ").trim();
}

saves?.addEventListener("click", asFile);
takes?.addEventListener("change", async () => {
  const [file] = takes.files;
  if (!file) return;
  taken.textContent = await takeIn64(file);
  takes.value = "";
  await away.changed();
  await away.send();
});
