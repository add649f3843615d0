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
