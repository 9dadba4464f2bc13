// A rig's form: which fields it has depends on its loading and its instrument. Without this, a button lays it out anew.
"use strict";
(() => {
  const form = document.querySelector("[data-rig]");
  if (!form) return;
  const button = form.querySelector('button[value="refresh"]');
  button.closest("p").hidden = true;
  form.addEventListener("change", (event) => {
    if (event.target.matches("[data-refresh]")) form.requestSubmit(button);
  });
})();
