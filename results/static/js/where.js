// Where it broke, picked on the drawing: into the row that somebody was in. Without this, its number is typed or chosen.
"use strict";
(() => {
  const box = document.querySelector("[data-where]");
  const form = document.querySelector("[data-form]");
  if (!box || !form) return;
  const NAME = /^specimen-\d+-\d+-failure_place$/;
  const places = () => [...form.elements].filter((one) => NAME.test(one.name) && one.type !== "hidden");
  if (!places().length) return;

  let last = null;
  form.addEventListener("focusin", (event) => {
    const row = (event.target.name || "").match(/^specimen-\d+-\d+-/);
    if (row) last = form.elements[`${row[0]}failure_place`] || last;
  });
  // A row that has a reading, may have broken, and does not say yet where.
  const isOpen = (place) => {
    const of = (what) => (form.elements[place.name.replace("failure_place", what)] || {}).value || "";
    return !place.value && of("reading") && !["held", "void"].includes(of("outcome"));
  };
  const next = (after) => {
    const all = places();
    return all.slice(all.indexOf(after) + 1).find(isOpen) || null;
  };
  const rowOf = (place) => {
    const [, series, row] = place.name.match(/^specimen-(\d+)-(\d+)-/);
    return `series ${Number(series) + 1}, specimen ${Number(row) + 1}`;
  };

  const done = box.querySelector("[data-where-done]");
  const pick = (button) => {
    const place = last && places().includes(last) ? last : places().find(isOpen) || places()[0];
    place.value = place.matches("select") ? button.dataset.pick : button.dataset.name;
    place.dispatchEvent(new Event("input", { bubbles: true }));
    place.dispatchEvent(new Event("change", { bubbles: true }));
    last = next(place);
    const then = last ? ` Next: ${rowOf(last)}.` : " No other row waits for one.";
    done.textContent = `${rowOf(place)}: ${button.dataset.name.toLowerCase()}.${then}`;
    done.textContent = done.textContent[0].toUpperCase() + done.textContent.slice(1);
  };

  const buttons = [...box.querySelectorAll("[data-pick]")];
  for (const button of buttons) {
    button.hidden = false;
    button.addEventListener("click", () => pick(button));
  }
  // The drawing is another way to the same buttons; who can't see or point at it has those.
  const drawing = box.querySelector(".where-drawing");
  drawing.classList.add("picks");
  drawing.addEventListener("click", (event) => {
    const of = event.target.closest("[data-place]");
    const button = of && buttons.find((one) => one.dataset.pick === of.dataset.place);
    if (button) pick(button);
  });
  box.querySelector("[data-where-how]").hidden = false;
})();
