// Asks the device for a passkey, puts what it answers into the form, and sends the form. A button
// says where the browser asks what to ask (data-passkey-at), or what that is (data-passkey-asks: a
// new one). Without this file, or in a browser that knows no passkeys, the button stays hidden and
// the words under it say what does without.
const IN_BYTES = ["clientDataJSON", "attestationObject", "authenticatorData", "signature", "userHandle"];
const SAID = {
  NotAllowedError: "Nothing came of it: it was called off, took too long, or there is no passkey for this address. Try again, or use your password.",
  InvalidStateError: "This device has a passkey of yours for this address already.",
  SecurityError: "The browser makes no passkey at this address. It needs a certificate that the device trusts.",
  NotSupportedError: "This device cannot keep a passkey of the kind that is needed. Take another one.",
};
const OTHERWISE = "The book did not answer, or not in order. Try again, or use your password.";

function toBytes(text) {
  const plain = atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  return Uint8Array.from(plain, (letter) => letter.charCodeAt(0));
}

function toText(buffer) {
  let plain = "";
  for (const byte of new Uint8Array(buffer)) plain += String.fromCharCode(byte);
  return btoa(plain).replaceAll("+", "-").replaceAll("/", "_").replaceAll("=", "");
}

// What the book sends is JSON; the browser wants bytes in it.
function asked(options) {
  const described = (list) => (list ?? []).map((one) => ({ ...one, id: toBytes(one.id) }));
  const read = { ...options, challenge: toBytes(options.challenge) };
  if (options.user) read.user = { ...options.user, id: toBytes(options.user.id) };
  if (options.excludeCredentials) read.excludeCredentials = described(options.excludeCredentials);
  if (options.allowCredentials) read.allowCredentials = described(options.allowCredentials);
  return read;
}

function answered(credential) {
  const response = {};
  for (const name of IN_BYTES) {
    const value = credential.response[name];
    if (value) response[name] = toText(value);
  }
  const ways = credential.response.getTransports?.();
  if (ways) response.transports = ways;
  return JSON.stringify({
    id: credential.id,
    rawId: toText(credential.rawId),
    type: credential.type,
    response,
  });
}

async function optionsFor(button) {
  if (button.dataset.passkeyAsks) return JSON.parse(button.dataset.passkeyAsks);
  const { csrfmiddlewaretoken, second } = button.form.elements;
  const body = new URLSearchParams({ csrfmiddlewaretoken: csrfmiddlewaretoken.value });
  if (second) body.set("second", second.value);
  const answer = await fetch(button.dataset.passkeyAt, { method: "POST", body, redirect: "error" });
  const { asks, said } = await answer.json();
  if (said) throw Object.assign(new Error(said), { said });
  return JSON.parse(asks);
}

async function show(button, said) {
  const { form } = button;
  if (!form.reportValidity()) return;
  button.disabled = true;
  said.textContent = "Waiting for your device …";
  try {
    const publicKey = asked(await optionsFor(button));
    const is_new = Boolean(button.dataset.passkeyAsks);
    const found = await (is_new
      ? navigator.credentials.create({ publicKey })
      : navigator.credentials.get({ publicKey }));
    form.elements.passkey_answer.value = answered(found);
    said.textContent = "";
    form.requestSubmit();
  } catch (error) {
    said.textContent = error.said ?? SAID[error.name] ?? OTHERWISE;
  } finally {
    button.disabled = false;
  }
}

for (const button of document.querySelectorAll("[data-passkey-at], [data-passkey-asks]")) {
  const said = button.form.querySelector("[data-passkey-said]");
  if (window.PublicKeyCredential && navigator.credentials) {
    said.textContent = "";
    button.hidden = false;
    button.addEventListener("click", () => show(button, said));
  }
}
