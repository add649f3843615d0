// The chosen day in words, as it is chosen. Without this file the words are those of the page.
const words = new Intl.DateTimeFormat("en-GB", {
  weekday: "long",
  day: "numeric",
  month: "long",
  year: "numeric",
  timeZone: "UTC",
});
document.addEventListener("input", (event) => {
  const said = event.target.parentElement?.querySelector(":scope > [data-day-words]");
  if (!said) return;
  const day = event.target.valueAsDate;
  if (!day) {
    said.textContent = "";
    return;
  }
  // As the page writes it: one comma, after the day of the week.
  const part = Object.fromEntries(words.formatToParts(day).map((one) => [one.type, one.value]));
  said.textContent = `${part.weekday}, ${part.day} ${part.month} ${part.year}`;
});
