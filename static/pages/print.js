// Opens the browser's own printing. Without this script the button is not there: every browser
// prints a page by its own menu.
for (const button of document.querySelectorAll("button[data-print]")) {
  button.removeAttribute("hidden");
  button.addEventListener("click", () => window.print());
}
