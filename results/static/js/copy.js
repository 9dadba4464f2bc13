// A button that copies the sentence beside it. Without this script it stays hidden and the sentence is there to select.
"use strict";

(() => {
  async function copy(button) {
    const words = button.textContent;
    try {
      await navigator.clipboard.writeText(button.dataset.copy);
      button.textContent = "copied";
    } catch {
      button.textContent = "could not copy: select the sentence instead";
    }
    setTimeout(() => (button.textContent = words), 2500);
  }

  const ready = () => document.querySelectorAll("[data-copy]").forEach((button) => (button.hidden = false));
  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-copy]");
    if (button) copy(button);
  });
  document.addEventListener("DOMContentLoaded", ready);
  document.addEventListener("htmx:afterSettle", ready);
})();
