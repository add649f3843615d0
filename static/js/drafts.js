// What is typed into a form stays in this tab until the book has kept it: over Back, a reload, a
// lost connection, a log-in that ran out. Without this file only what was sent comes back.
//
// A draft is kept by the page's address and the form's place on it, with the form's one-time token,
// so that it is not written a second time. A cookie names the token that the book kept last. What a
// form holds is read and put back by typed.js.
const OLD = 12 * 3600 * 1000;
const account = document.body.dataset.account;
const kept = /(?:^|; )keptlines_kept=([0-9a-f]{32})/.exec(document.cookie)?.[1];
const wentBack = performance.getEntriesByType("navigation")[0]?.type === "back_forward";

function read(key) {
  try {
    return JSON.parse(sessionStorage.getItem(key));
  } catch {
    return null;
  }
}

function forget(which) {
  for (const key of Object.keys(sessionStorage)) {
    if (key.startsWith("draft:") && which(read(key))) sessionStorage.removeItem(key);
  }
}

function save(key, form) {
  const token = form.elements.once.value.slice(0, 32); // the book's epoch follows it
  const draft = { account, at: Date.now(), token, typed: typedIn(form) };
  try {
    sessionStorage.setItem(key, JSON.stringify(draft));
  } catch {
    sessionStorage.removeItem(key); // no room: no draft is better than half of one
  }
}

function say(form, key, left) {
  const said = Object.assign(document.createElement("div"), { className: "notice draft" });
  said.setAttribute("role", "status");
  const words = ["What you typed here before was put back; it is not saved yet."];
  if (left.length) words.push(`This form has no place now for: ${left.join(" · ")}`);
  for (const textContent of words) {
    said.append(Object.assign(document.createElement("p"), { textContent }));
  }
  const over = document.createElement("button");
  Object.assign(over, { type: "button", className: "button quiet", textContent: "Start over" });
  over.addEventListener("click", () => {
    sessionStorage.removeItem(key);
    location.assign(location.href.split("#")[0]);
  });
  said.append(over);
  form.before(said);
}

function same(one, other) {
  const plain = (typed) => JSON.stringify(typed.filter(([name]) => !OF_THE_FORM.includes(name)));
  return plain(one) === plain(other);
}

forget((draft) => !draft || Date.now() - draft.at > OLD || (kept && draft.token === kept));

function startWith(form, key) {
  const draft = read(key);
  const answered = form.elements.once.dataset.answered;
  if (answered !== undefined) {
    if (draft?.token === answered) save(key, form); // it came back: what stands in it now counts
    return;
  }
  if (draft?.account === account && !same(draft.typed, typedIn(form))) {
    say(form, key, putBack(form, draft.typed));
  }
}

if (account) {
  const forms = [...document.querySelectorAll("form[method=post]")].filter(
    (form) => form.elements.once && !form.hasAttribute("data-no-draft"),
  );
  for (const [place, form] of forms.entries()) {
    const key = `draft:${location.pathname}${location.search}#${place}`;
    let touched = false;
    if (!wentBack) startWith(form, key);
    else {
      // Some browsers fill in what stood there, beside a new token: that would be a second form of
      // the same contents. They do it before this event.
      addEventListener("pageshow", (event) => {
        if (event.persisted || touched) return;
        form.reset();
        form.dispatchEvent(new Event("input", { bubbles: true }));
        startWith(form, key);
      });
    }
    for (const kind of ["input", "change"]) {
      form.addEventListener(kind, (event) => {
        if (!event.isTrusted) return;
        touched = true;
        save(key, form);
      });
    }
    form.addEventListener("submit", () => read(key) && save(key, form));
  }
  // Whoever logs out leaves nothing behind for the next.
  for (const out of document.querySelectorAll("form[data-log-out]")) {
    out.addEventListener("submit", () => forget(() => true));
  }
}
