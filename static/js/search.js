// "/" goes to the search field that can be seen, unless something is being typed.
document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey) return;
  if (event.target.closest("input, select, textarea, [contenteditable]")) return;
  const fields = ["main [data-search]", "[data-search]"].flatMap((where) => [
    ...document.querySelectorAll(where),
  ]);
  const field = fields.find((one) => one.checkVisibility());
  if (!field) return;
  event.preventDefault();
  field.focus();
  field.select();
});

// From the field the arrows lead through what was found below it, and Escape back.
document.addEventListener("keydown", (event) => {
  const find = event.target.closest("[data-finds]");
  if (!find || !["ArrowDown", "ArrowUp", "Escape"].includes(event.key)) return;
  const places = [find.querySelector("[data-search]"), ...find.querySelectorAll("a")];
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  const here = places.indexOf(document.activeElement);
  const next = step ? places[here + step] : places[0];
  if (!next || (event.key === "Escape" && here === 0)) return;
  event.preventDefault();
  next.focus();
});
