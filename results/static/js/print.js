/* A button that prints the page; without this script the browser's own does. */
for (const button of document.querySelectorAll("[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
/* The day it was printed. The page itself has none: it is kept, and the same for all who read it. */
addEventListener("beforeprint", () => {
  for (const place of document.querySelectorAll("[data-day]")) place.textContent = `, printed ${new Date().toISOString().slice(0, 10)}`;
});
