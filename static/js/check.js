// Checks a sheet on a static page: the signature over its exact bytes, and over what came after.
// What this browser cannot do leaves the page saying that it could not be checked.
const place = document.getElementById("check");

const bytes = (name) =>
  Uint8Array.from(atob(place.getAttribute(`data-${name}`)), (letter) => letter.charCodeAt(0));
const hex = (buffer) =>
  Array.from(new Uint8Array(buffer), (byte) => byte.toString(16).padStart(2, "0")).join("");

// Returns true, false, or null where this browser cannot tell.
async function holds(key, signature, signed) {
  let read;
  try {
    read = await crypto.subtle.importKey("raw", key, { name: "Ed25519" }, false, ["verify"]);
  } catch (error) {
    // A key of another length is no key; anything else is a browser that does not know the kind.
    if (key.length !== 32) return false;
    if (error.name === "DataError") return false;
    return null;
  }
  try {
    return await crypto.subtle.verify({ name: "Ed25519" }, read, signature, signed);
  } catch (error) {
    return error.name === "NotSupportedError" ? null : false;
  }
}

async function fingerprint(key) {
  return hex(await crypto.subtle.digest("SHA-256", key)).slice(0, 32);
}

function say(kind, head, ...lines) {
  place.classList.remove("error", "warning");
  if (kind) place.classList.add(kind);
  const told = document.createElement("p");
  const strong = document.createElement("strong");
  strong.textContent = head;
  told.append(strong, ` ${lines[0]}`);
  const more = lines.slice(1).map((line) => {
    const p = document.createElement("p");
    p.textContent = line;
    return p;
  });
  place.replaceChildren(told, ...more);
}

// What was signed, read from the signed bytes and not from the page.
function inWords(record) {
  const content = record.content;
  const claims = content.claims.map((row) => {
    const lines = row.lines.join(" / ") || row.line_note;
    return `${row.trait}${lines ? ` ${lines}` : ""}: ${row.words}`;
  });
  const disputed = content.disputed.map((name) => `${name}: disputed, nothing is claimed`);
  return [
    `Signed on ${record.issued} by ${content.issuer}: sheet ${record.number} of ${content.animal.code}.`,
    ...claims,
    ...disputed,
  ];
}

async function check() {
  if (!place || !globalThis.crypto?.subtle) return;
  const [signed, key] = [bytes("signed"), bytes("key")];
  const [state, stateKey] = [bytes("state"), bytes("state-key")];
  const answers = [
    await holds(key, bytes("signature"), signed),
    await holds(stateKey, bytes("state-signature"), state),
  ];
  if (answers.includes(null)) return;
  const broken = (what) => say("error", "The signature does not hold.", what);
  if (!answers[0]) return broken("This is not what was signed: do not rely on it, ask the seller.");
  if (!answers[1]) return broken("What this page says came after is not what the book wrote.");
  const text = new TextDecoder("utf-8", { fatal: true });
  let record, after;
  try {
    record = JSON.parse(text.decode(signed));
    after = JSON.parse(text.decode(state));
  } catch {
    return broken("What was signed cannot be read.");
  }
  const same =
    record.format === "keptlines-sheet" &&
    after.format === "keptlines-sheet-state" &&
    [1, 2].includes(record.version) &&
    after.version === 1 &&
    record.code === after.code &&
    record.number === after.number &&
    record.key === (await fingerprint(key)) &&
    after.key === (await fingerprint(stateKey)) &&
    location.pathname.includes(`/${record.code}/`);
  if (!same) return broken("These signatures are of another sheet.");
  const lines = inWords(record);
  if (after.withdrawn) lines.unshift(`The seller withdrew it on ${after.withdrawn}.`);
  if (after.key !== record.key) {
    // Whoever could alter the folder could sign this with a key of their own.
    const grouped = after.key.match(/.{1,4}/g).join(" ");
    lines.push(`Whether it still stands was signed with a later key, ${grouped}: ask the seller whether it is theirs.`);
  }
  if (after.notice) lines.unshift(`Since ${after.notice} the book says otherwise: ask the seller.`);
  if (new Date() > new Date(`${after.stale_after}T23:59:59`)) {
    lines.unshift(
      `But this page is stale: it tells of ${after.as_of}. Ask the seller whether it still stands.`,
    );
    return say("warning", "The signature holds.", ...lines);
  }
  say(after.withdrawn || after.notice ? "warning" : "", "The signature holds.", ...lines);
}

check();
