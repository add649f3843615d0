// Switch the theme in place. Without this file the buttons post and the page comes back.
document.addEventListener("submit", (event) => {
  const form = event.target.closest("form.theme");
  const theme = event.submitter?.value;
  if (!form || !theme) return;
  event.preventDefault();
  document.documentElement.dataset.theme = theme;
  for (const button of form.querySelectorAll("button")) {
    button.setAttribute("aria-pressed", String(button.value === theme));
  }
  const body = new URLSearchParams(new FormData(form, event.submitter));
  fetch(form.action, { method: "POST", body, redirect: "manual" });
});
