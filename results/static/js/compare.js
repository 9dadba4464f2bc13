// The comparison's conveniences: sift the list of joints. Everything works without them.
"use strict";

(() => {
  function sift() {
    const box = document.querySelector("[data-sift]");
    if (!box) return;
    box.hidden = false;
    const input = box.querySelector("input");
    const holder = box.parentElement;
    input.addEventListener("input", (event) => {
      event.stopPropagation();
      const words = input.value.toLowerCase().split(/\s+/).filter(Boolean);
      for (const family of holder.querySelectorAll("fieldset")) {
        let left = 0;
        for (const choice of family.querySelectorAll(".choice")) {
          const text = `${family.querySelector("legend").textContent} ${choice.textContent}`.toLowerCase();
          choice.hidden = !words.every((word) => text.includes(word));
          left += !choice.hidden;
        }
        family.hidden = !left;
      }
    });
    // Sifting is no choice: it must not ask the server, nor send the form.
    input.addEventListener("change", (event) => event.stopPropagation());
    input.addEventListener("keydown", (event) => event.key === "Enter" && event.preventDefault());
  }

  document.addEventListener("DOMContentLoaded", sift);
  // What isn't chosen needn't stand in the address.
  document.addEventListener("htmx:configRequest", (event) => {
    const asked = event.detail.parameters;
    for (const name of Object.keys(asked)) if (asked[name] === "") delete asked[name];
  });
})();
