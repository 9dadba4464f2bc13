// What is typed into a joint's sizes while those of another one are on their way stays typed.
(() => {
  "use strict";
  const sizes = () => document.getElementById("sizes");
  let typed = [];

  document.addEventListener("htmx:beforeSwap", (event) => {
    if (event.detail.target !== sizes()) return;
    const sent = event.detail.requestConfig.parameters;
    typed = [...sizes().querySelectorAll("input[name]")]
      .filter((field) => field.value !== (sent[field.name] ?? ""))
      .map((field) => [field.name, field.value]);
  });

  document.addEventListener("htmx:afterSwap", () => {
    for (const [name, value] of typed) {
      let field = [...sizes().querySelectorAll("input[name]")].find((one) => one.name === name);
      if (!field) {  // a joint without that size: kept, as those that were sent are
        field = Object.assign(document.createElement("input"), { type: "hidden", name });
        sizes().append(field);
      }
      field.value = value;
    }
    typed = [];
  });
})();
