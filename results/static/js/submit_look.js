// While typing: what the server reads and notices, beside each field, and the rig drawn from its lengths.
"use strict";
(() => {
  const shared = window.submitForm;
  if (!shared) return;
  const { form } = shared;
  const SOON_MS = 500;
  const left = new Set(); // fields that somebody was in and has left
  const told = new Set([...form.querySelectorAll('[id$="-found"]')].map((one) => one.id.slice(0, -6)));
  let timer;
  let busy = false;
  let again = false;
  let pausedTill = 0;

  // The server can tell what is blank from the beginning; a person wants to hear it after passing by, or when asked.
  const wanted = (name, one) => !one.later || told.has(name) || (one.code === "missing" && left.has(name));

  function line(one) {
    const p = document.createElement("p");
    p.className = `found ${one.severity}`;
    const kind = document.createElement("strong");
    kind.textContent = `${one.severity[0].toUpperCase()}${one.severity.slice(1)}:`;
    p.append(kind, ` ${one.message} ${one.remedy}`);
    return p;
  }

  function describe(input, what, there) {
    const ids = new Set((input.getAttribute("aria-describedby") || "").split(" ").filter(Boolean));
    if (there) ids.add(`${input.id}-${what}`); else ids.delete(`${input.id}-${what}`);
    if (ids.size) input.setAttribute("aria-describedby", [...ids].join(" ")); else input.removeAttribute("aria-describedby");
  }

  // The element that says something of a field, made, filled or taken away; untouched where nothing changed.
  function show(input, what, lines) {
    const id = `${input.id}-${what}`;
    let box = document.getElementById(id);
    const text = lines.map((one) => one.textContent).join("\n");
    if (box && [...box.children].map((one) => one.textContent).join("\n") === text && text) return;
    if (!lines.length) { if (box) box.remove(); } else {
      if (!box) {
        box = document.createElement("div");
        box.id = id;
        if (input.tagName === "FIELDSET") input.querySelector("legend").after(box);
        else if (what === "echo") input.after(box);
        else input.closest("[data-field]").append(box);
      }
      box.className = what === "echo" ? "echo" : "";
      box.replaceChildren(...lines);
    }
    if (input.tagName !== "FIELDSET") describe(input, what, lines.length);
  }

  function showFindings(found) {
    const names = new Set([...Object.keys(found), ...[...form.querySelectorAll('[id$="-found"]')].map((one) => one.id.slice(0, -6))]);
    for (const name of names) {
      const input = document.getElementById(name);
      if (!input || !form.contains(input)) continue;
      const lines = (found[name] || []).filter((one) => wanted(name, one));
      show(input, "found", lines.map(line));
      const wrong = lines.some((one) => one.severity === "error");
      const field = input.closest("[data-field]");
      if (!field) continue;
      field.classList.toggle("wrong", wrong);
      if (wrong) input.setAttribute("aria-invalid", "true"); else input.removeAttribute("aria-invalid");
      const fold = lines.length && input.closest("details");
      if (fold) fold.open = true;
    }
  }

  function showEchoes(echoes) {
    for (const input of form.querySelectorAll("[data-field] > input")) {
      const text = echoes[input.name];
      const p = document.createElement("p");
      p.textContent = `= ${text}`;
      show(input, "echo", text ? [p] : []);
    }
  }

  function draw(svg) {
    const figure = form.querySelector("[data-drawing]");
    if (!figure) return;
    figure.hidden = !svg;
    if (!svg) return;
    const drawn = new DOMParser().parseFromString(svg, "image/svg+xml").documentElement;
    if (drawn.tagName === "svg") figure.replaceChildren(document.importNode(drawn, true));
  }

  async function look() {
    clearTimeout(timer);
    if (busy) { again = true; return; }
    if (!navigator.onLine) return;
    const pause = pausedTill - Date.now();
    if (pause > 0) { timer = setTimeout(look, pause); return; }
    busy = true;
    again = false;
    try {
      const answer = await shared.ask(form.dataset.check, { fields: { ...shared.fields(), key: form.dataset.key } });
      if (answer.ok) {
        const said = await answer.json();
        if (!again) { // what was typed meanwhile is looked at next, this would be the view of a while ago
          showFindings(said.findings);
          showEchoes(said.echoes);
          draw(said.drawing);
        }
      } else if (answer.status === 429) pausedTill = Date.now() + 1000 * Number(answer.headers.get("Retry-After") || 20);
    } catch { /* no connection: it is looked at when the form is sent */ }
    busy = false;
    if (again) timer = setTimeout(look, SOON_MS);
  }

  form.addEventListener("input", (event) => {
    if ((event.target.name || "").endsWith("-paste")) return;
    if (busy) again = true;
    clearTimeout(timer);
    timer = setTimeout(look, SOON_MS);
  });
  form.addEventListener("focusout", (event) => {
    if (!event.target.name || left.has(event.target.name)) return;
    left.add(event.target.name);
    if (!event.target.value) { clearTimeout(timer); timer = setTimeout(look, SOON_MS); }
  });
})();
