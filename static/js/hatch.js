// Steppers at the counts of a hatch day, and their sum as it grows. Without this file the counts
// are plain fields, and the page that comes back says what does not add up.
const form = document.querySelector("form.hatch");

function number(field) {
  return Math.max(0, Number.parseInt(field.value, 10) || 0);
}

function stepButton(field, step, name) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "step";
  // The count beside it is typed or stepped with the arrow keys: no stop of its own.
  button.tabIndex = -1;
  button.textContent = step > 0 ? "+" : "−";
  button.setAttribute("aria-label", `${step > 0 ? "One more" : "One less"}: ${name}`);
  button.addEventListener("click", () => {
    field.value = String(Math.max(0, number(field) + step));
    field.dispatchEvent(new Event("input", { bubbles: true }));
  });
  return button;
}

function nameOf(stepper) {
  const look = stepper.closest(".look")?.querySelector("h3")?.firstChild?.textContent.trim();
  return [look, stepper.querySelector("label").textContent].filter(Boolean).join(", ");
}

function addUp() {
  const said = form.querySelector("output.sum");
  const [eggs, slugs, lost] = ["eggs", "slugs", "lost"].map((name) => number(form.elements[name]));
  let hatched = 0;
  for (const field of form.querySelectorAll(".cells input[name$='-count']")) {
    hatched += number(field);
  }
  const sum = slugs + lost + hatched;
  const parts = `${slugs} slug${slugs === 1 ? "" : "s"} + ${lost} lost + ${hatched} hatched`;
  const open = form.elements.still_open.checked;
  const counted = form.elements.eggs.value !== "";
  said.hidden = false;
  said.classList.toggle("off", counted && sum > eggs);
  if (!counted) said.textContent = `${parts} = ${sum}`;
  else if (sum === eggs) said.textContent = `${eggs} ${eggs === 1 ? "egg" : "eggs"} = ${parts}`;
  else if (sum < eggs && open) said.textContent = `${parts} = ${sum} of ${eggs} eggs`;
  else if (sum < eggs) {
    const left = eggs - sum;
    const soFar = sum ? `: ${parts}` : "";
    said.textContent = `${left} ${left === 1 ? "egg" : "eggs"} still to count${soFar}`;
  } else said.textContent = `${eggs} ${eggs === 1 ? "egg" : "eggs"}, but ${parts} are ${sum}`;
}

if (form) {
  for (const stepper of form.querySelectorAll(".stepper")) {
    const field = stepper.querySelector("input");
    const name = nameOf(stepper);
    field.before(stepButton(field, -1, name));
    field.after(stepButton(field, 1, name));
    stepper.classList.add("stepping");
    // A tap into a count that stands there is meant to replace it.
    field.addEventListener("focus", () => field.select());
  }
  form.addEventListener("input", addUp);
  addUp();
}
