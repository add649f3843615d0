// Buttons that copy a text of the page. Without this file it is selected and copied by hand.
for (const button of document.querySelectorAll("[data-copy]")) {
  const text = document.getElementById(button.dataset.copy);
  const told = button.parentElement.querySelector("[data-copied]");
  button.hidden = false;
  button.addEventListener("click", async () => {
    text.select();
    try {
      await navigator.clipboard.writeText(text.value);
      told.textContent = "Copied.";
    } catch {
      // Without a secure address a browser lets no page write there: it is selected by now.
      told.textContent = document.execCommand("copy") ? "Copied." : "Selected: copy it now.";
    }
  });
}
