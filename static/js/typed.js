// What is typed into a form, read and put back: for drafts in the tab, and for entries that waited.
const NOT_TYPED = ["password", "file", "submit", "button"];
const OF_THE_FORM = ["once", "made_from", "insist"];

function isTyped({ name, type, dataset }) {
  const kept = name && name !== "csrfmiddlewaretoken" && !NOT_TYPED.includes(type);
  return kept && dataset.secret === undefined;
}

function typedIn(form) {
  const typed = [];
  for (const control of form.elements) {
    const { name, type } = control;
    if (control.disabled || !isTyped(control)) continue;
    if ((type === "checkbox" || type === "radio") && !control.checked) continue;
    if (type === "select-multiple") {
      for (const option of control.selectedOptions) typed.push([name, option.value]);
    } else typed.push([name, control.value]);
  }
  return typed;
}

// Put values back by name; return those for which the form has no place now.
function putBack(form, typed) {
  const values = new Map();
  for (const [name, value] of typed) values.set(name, [...(values.get(name) ?? []), value]);
  for (const control of form.elements) {
    const { name, type } = control;
    if (!isTyped(control)) continue;
    const own = values.get(name);
    const before = type === "checkbox" || type === "radio" ? control.checked : control.value;
    if (type === "checkbox" || type === "radio") control.checked = Boolean(own?.includes(control.value));
    else if (type === "select-multiple") {
      for (const option of control.options) option.selected = Boolean(own?.includes(option.value));
    } else if (own?.length) control.value = own[0];
    if (own?.length) {
      if (type === "checkbox" || type === "radio") own.splice(own.indexOf(control.value), control.checked ? 1 : 0);
      else if (type === "select-multiple") own.length = 0;
      else own.shift();
    }
    const after = type === "checkbox" || type === "radio" ? control.checked : control.value;
    if (after !== before) {
      for (const kind of ["input", "change"]) control.dispatchEvent(new Event(kind, { bubbles: true }));
    }
  }
  const left = [...values].filter(([name]) => !OF_THE_FORM.includes(name));
  return left.flatMap(([, those]) => those.filter((one) => one.trim()));
}
