// A table wider than the screen scrolls in its own frame. Say so above it, and mark the side where there is more.
"use strict";

(() => {
  const WORDS = document.currentScript.dataset.words;

  function mark(frame) {
    const left = frame.scrollLeft > 1;
    const right = frame.scrollLeft + frame.clientWidth < frame.scrollWidth - 1;
    frame.dataset.more = [left && "left", right && "right"].filter(Boolean).join(" ");
    let told = frame.previousElementSibling;
    if (!told?.matches(".sideways")) told = null;
    if ((left || right) && !told) {
      told = document.createElement("p");
      told.className = "sideways";
      told.textContent = WORDS;
      frame.before(told);
    }
    if (told) told.hidden = !left && !right;
  }

  const sizes = new ResizeObserver((changed) => changed.forEach((one) => mark(one.target)));

  function watchAll() {
    for (const frame of document.querySelectorAll(".table, .plan-sheet")) {
      if (frame.dataset.watched) continue;
      frame.dataset.watched = "yes";
      frame.addEventListener("scroll", () => mark(frame), { passive: true });
      sizes.observe(frame);
    }
  }

  watchAll();
  document.addEventListener("htmx:afterSettle", watchAll);
})();
