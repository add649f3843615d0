// What this device has of its own: entries that wait for a connection, and what it noted of the book.
// Pages and the worker both use it. An entry stays here until the book has answered it and whoever
// made it has seen the answer; nothing takes one away by itself but its time in the list of sent ones.
const away = {
  // Whose entry: the mark of an account; whoever else uses the device is shown a number of them only.
  OPEN: ["waiting", "held"],
  NEEDS: ["refused", "answered", "restored"],
  DAYS_LISTED: 7,
  heard: typeof BroadcastChannel === "function" ? new BroadcastChannel("keptlines-away") : null,
};

away.base = () => {
  away.opened ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open("keptlines-away", 1);
    asked.onupgradeneeded = () => {
      asked.result.createObjectStore("entries", { keyPath: "id", autoIncrement: true });
      asked.result.createObjectStore("noted");
    };
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
  return away.opened;
};

away.ask = async (store, mode, act) => {
  const base = await away.base();
  return new Promise((resolve, reject) => {
    // Strict: a phone that is switched off a moment later still has the entry.
    const transaction = base.transaction(store, mode, { durability: "strict" });
    const asked = act(transaction.objectStore(store));
    transaction.oncomplete = () => resolve(asked.result);
    transaction.onerror = transaction.onabort = () => reject(transaction.error);
  });
};

away.tell = () => away.heard?.postMessage("changed");
away.entries = () => away.ask("entries", "readonly", (store) => store.getAll());
away.entry = (id) => away.ask("entries", "readonly", (store) => store.get(id));
away.noted = (name) => away.ask("noted", "readonly", (store) => store.get(name));
away.note = (name, value) => away.ask("noted", "readwrite", (store) => store.put(value, name));

away.keep = async (entry) => {
  const id = await away.ask("entries", "readwrite", (store) => store.put(entry));
  away.tell();
  return id;
};

away.drop = async (id) => {
  await away.ask("entries", "readwrite", (store) => store.delete(id));
  away.tell();
};

// Who was logged in when the book was last heard of: {who, key, asked}; null if nobody was.
away.reader = () => away.noted("reader").then((reader) => reader ?? null);

// A page of somebody's says whose it is by itself; one of nobody's is of whoever was here last.
away.who = async () => globalThis.document?.body.dataset.reader ?? (await away.reader())?.who;

away.own = async () => {
  const [who, entries] = [await away.who(), await away.entries()];
  return entries.filter((entry) => who && entry.who === who);
};

away.valueOf = (entry, name) => entry.typed.find(([one]) => one === name)?.[1] ?? "";
away.token = (entry) => away.valueOf(entry, "once").slice(0, 32);

away.newToken = () => {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  return [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
};

// What an entry is about, so that one that needs somebody holds back those after it on the same.
away.subjects = ({ address, typed }) => {
  const found = new Set();
  const { pathname, searchParams } = new URL(address, location.origin);
  const named = /^\/(animals|clutches)\/(\d+)\//.exec(pathname);
  if (named) found.add(`${named[1]}/${named[2]}`);
  if (searchParams.get("animal")) found.add(`animals/${searchParams.get("animal")}`);
  for (const [name, value] of typed) {
    const meal = /^meal-(\d+)$/.exec(name);
    if (meal && value !== "none") found.add(`animals/${meal[1]}`);
    if (name !== "made_from") continue;
    for (const [, model, pk] of value.matchAll(/([a-z]+)\+?\.(\d+)\./g)) {
      found.add(`${{ animal: "animals", clutch: "clutches" }[model] ?? model}/${pk}`);
    }
  }
  return [...found];
};

away.when = (at) =>
  new Intl.DateTimeFormat("en-GB", {
    day: "numeric", month: "long", year: "numeric", hour: "2-digit", minute: "2-digit",
  }).format(new Date(at));

away.dayInWords = (day) =>
  new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "long", year: "numeric", timeZone: "UTC" }).format(day);

away.day = (at) => {
  const day = new Date(at);
  const part = (number) => String(number).padStart(2, "0");
  return `${day.getFullYear()}-${part(day.getMonth() + 1)}-${part(day.getDate())}`;
};
