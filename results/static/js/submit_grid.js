// The grid of specimens: Enter goes down the column, and rows are added without asking the server.
"use strict";
(() => {
  const shared = window.submitForm;
  if (!shared) return;
  const { form } = shared;
  const MOST = Number(form.dataset.mostRows);
  const PLACE = /^specimen-(\d+)-(\d+)-(.+)$/;
  const ORDER = ["reading", "outcome", "failure_place", "wood_failure", "void_reason", "notes"];
  const placed = (input) => {
    const found = PLACE.exec(input.name || "");
    return found && { at: Number(found[1]), row: Number(found[2]), column: found[3] };
  };
  const cell = (at, row, column) => form.elements[`specimen-${at}-${row}-${column}`];
  const rowsOf = (at) => Number(form.elements[`series-${at}-rows`].value);

  // One more row like the last, blank.
  function addRow(at) {
    const count = rowsOf(at);
    if (count >= MOST) return false;
    const last = document.getElementById(`specimen-${at}-${count - 1}`);
    const row = last.cloneNode(true);
    const renamed = (text) => text.replaceAll(`specimen-${at}-${count - 1}`, `specimen-${at}-${count}`);
    row.id = renamed(row.id);
    row.setAttribute("aria-label", `Specimen ${count + 1}`);
    row.querySelector(".count").textContent = count + 1;
    for (const one of row.querySelectorAll('[id$="-found"], .echo, summary .tag')) one.remove();
    for (const one of row.querySelectorAll(".wrong")) one.classList.remove("wrong");
    for (const one of row.querySelectorAll("details")) one.open = false;
    for (const one of row.querySelectorAll("[id], [for], [aria-describedby]")) {
      for (const name of ["id", "for", "name", "aria-describedby"]) {
        if (one.hasAttribute(name)) one.setAttribute(name, renamed(one.getAttribute(name)));
      }
      one.removeAttribute("aria-invalid");
    }
    for (const one of row.querySelectorAll("input")) one.value = "";
    for (const one of row.querySelectorAll("select")) {
      for (const option of [...one.options]) if ("typed" in option.dataset) option.remove();
      one.selectedIndex = 0;
    }
    last.after(row);
    form.elements[`series-${at}-rows`].value = count + 1;
    return true;
  }

  function focusOn(input) {
    input.focus();
    if (input.select) input.select();
    return true;
  }

  // The cell below; from the foot of a column the head of the next that is still to be filled in.
  function down({ at, row, column }) {
    const below = cell(at, row + 1, column);
    if (below) return focusOn(below);
    const next = ORDER.slice(ORDER.indexOf(column) + 1).find((name) => {
      const head = cell(at, 0, name);
      return head && name !== "outcome" && head.offsetParent;
    });
    return Boolean(next) && focusOn(cell(at, 0, next));
  }

  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.isComposing) return;
    const place = placed(event.target);
    if (!place || event.target.tagName === "TEXTAREA") return;
    event.preventDefault(); // Enter in a row never sends the form
    down(place);
  });

  form.addEventListener("click", (event) => {
    const button = event.target.closest("[data-rows]");
    if (!button) return;
    event.preventDefault();
    const at = Number(button.value.split("-")[1]);
    const first = rowsOf(at);
    for (let added = 0; added < 5 && addRow(at); added += 1);
    if (rowsOf(at) >= MOST) button.hidden = true;
    if (cell(at, first, "reading")) focusOn(cell(at, first, "reading"));
    shared.typed();
  });

  for (const one of form.querySelectorAll('[data-grid] input[type="text"]')) one.enterKeyHint = "next";
  shared.grid = { placed, cell, rowsOf, addRow, ORDER, MOST };
})();
