// The form for handing in a study works without any of these scripts; with them it is quicker and forgets nothing.
// This one: what the page does as a whole, and what the other scripts share.
"use strict";
(() => {
  const found = document.getElementById("found");
  if (found) found.focus();

  const form = document.querySelector("[data-form]");
  if (!form) return;
  form.classList.add("scripted");

  const NOT_TYPED = new Set(["csrfmiddlewaretoken", "seen", "do", "version", "tab", "by", "add-joint", "differs"]);

  window.submitForm = {
    form,
    state: form.querySelector("[data-state]"),
    // All that was typed, by the names of the inputs.
    fields() {
      const pairs = [...new FormData(form)].filter(([name]) => !NOT_TYPED.has(name) && !name.endsWith("-paste"));
      return Object.fromEntries(pairs.filter(([, value]) => value !== ""));
    },
    ask(url, body, more = {}) {
      return fetch(url, {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-CSRFToken": form.elements.csrfmiddlewaretoken.value },
        body: JSON.stringify(body),
        credentials: "same-origin",
        redirect: "error",
        ...more,
      });
    },
    typed() { form.dispatchEvent(new Event("input", { bubbles: true })); },
  };

  // Other fields depend on these: lay the form out anew, all that was typed comes along.
  form.addEventListener("change", (event) => {
    if (!event.target.matches("[data-refresh]")) return;
    const button = event.target.closest("fieldset").querySelector('button[value="refresh"]');
    if (button && navigator.onLine) form.requestSubmit(button);
  });

  form.addEventListener("click", (event) => {
    const button = event.target.closest("[data-confirm]");
    if (button && !window.confirm(button.dataset.confirm)) event.preventDefault();
  });

  // A phone's number keypad has no stroke for fractions of an inch: who works in inches gets the whole keyboard.
  const unit = form.elements["study-length_unit"];
  const lengths = [...form.querySelectorAll("#setup input[inputmode], #shared input[inputmode]")];
  if (unit && lengths.length) {
    unit.addEventListener("change", () => {
      for (const one of lengths) one.inputMode = unit.value === "in" ? "text" : "decimal";
    });
  }
})();
