// Parts of a page made of what this device keeps; texts are texts, never markup.
function made(tag, properties = {}, ...inside) {
  const element = Object.assign(document.createElement(tag), properties);
  element.append(...inside.filter((one) => one !== null && one !== undefined && one !== ""));
  return element;
}

function timeOf(at) {
  return made("time", { dateTime: new Date(at).toISOString() }, away.when(at));
}

// What a name of a field says where its page could not tell how it is called.
function called(name) {
  return name.replace(/[-_]/g, " ");
}

const NOT_SHOWN = /^(once|made_from|insist|instead|back|seen|csrfmiddlewaretoken)$|_FORMS$/;

function rowsOf(entry) {
  const plain = entry.typed.filter(([name, value]) => !NOT_SHOWN.test(name) && value.trim());
  const rows = entry.said?.rows.length ? entry.said.rows : plain.map(([name, value]) => [called(name), value]);
  return [...rows, ...entry.files.map(({ called: name }) => ["File", name])];
}

function titleOf(entry) {
  return entry.said?.title || called(entry.address.split("?")[0].replaceAll("/", " ").trim());
}
