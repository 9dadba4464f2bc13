// Handing in a study: the page works without this; with it, it is quicker and forgets nothing.
"use strict";
(() => {
  const found = document.getElementById("found");
  if (found) found.focus();

  const form = document.querySelector("[data-form]");
  if (!form) return;
  form.classList.add("scripted");

  // Other fields depend on these: lay the form out anew, all that was typed comes along.
  form.addEventListener("change", (event) => {
    if (!event.target.matches("[data-refresh]")) return;
    const button = event.target.closest("fieldset").querySelector('button[value="refresh"]');
    if (button) form.requestSubmit(button);
  });

  form.addEventListener("click", (event) => {
    const button = event.target.closest("[data-confirm]");
    if (button && !window.confirm(button.dataset.confirm)) event.preventDefault();
  });

  // Readings: Enter goes to the next one, and a pasted column fills those below.
  const isReading = (input) => /^specimen-\d+-\d+-reading$/.test(input.name || "");
  const readingsFrom = (input) => {
    const all = [...form.querySelectorAll(`input[name^="${input.name.match(/^specimen-\d+-/)[0]}"]`)].filter(isReading);
    return all.slice(all.indexOf(input));
  };
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || !isReading(event.target)) return;
    event.preventDefault();
    const next = readingsFrom(event.target)[1];
    if (next) next.focus();
  });
  form.addEventListener("paste", (event) => {
    if (!isReading(event.target)) return;
    const lines = event.clipboardData.getData("text").replace(/\s+$/, "").split(/\r\n|\r|\n/);
    const inputs = readingsFrom(event.target);
    // A column longer than the grid is pasted as the browser does, so that nothing of it disappears unseen.
    if (lines.length < 2 || lines.length > inputs.length || lines.some((line) => line.includes("\t"))) return;
    event.preventDefault();
    lines.forEach((line, at) => { inputs[at].value = line.trim(); });
    keepSoon();
  });

  // A copy in this browser, until the form has arrived: for a flat battery or a login that ran out.
  const NAME = `breakbook-unsent-form-${form.dataset.user}`;
  const DAYS = 7;
  const store = {
    get() { try { return JSON.parse(localStorage.getItem(NAME)); } catch { return null; } },
    set(value) { try { localStorage.setItem(NAME, JSON.stringify(value)); } catch { /* full or forbidden */ } },
    clear() { try { localStorage.removeItem(NAME); } catch { /* forbidden */ } },
  };
  const arrived = (document.cookie.match(/(?:^|; )arrived=([0-9a-f-]+)/) || [])[1];
  let kept = store.get();
  if (kept && Date.now() - kept.when > DAYS * 864e5) { store.clear(); kept = null; }
  const isSaved = kept && kept.key === arrived;

  const keep = () => {
    const skip = new Set(["csrfmiddlewaretoken", "seen"]);
    const pairs = [...new FormData(form)].filter(([name, value]) => !skip.has(name) && value !== "");
    store.set({ key: form.dataset.key, when: Date.now(), pairs });
  };
  let timer;
  const keepSoon = () => { clearTimeout(timer); timer = setTimeout(keep, 600); };
  form.addEventListener("input", keepSoon);
  form.addEventListener("submit", keep);
  if (!("fresh" in form.dataset)) keep();

  const bar = document.getElementById("kept");
  // A form filled in from a saved study needs no copy of what was saved.
  if (kept && "fresh" in form.dataset && bar && !(isSaved && "begun" in form.dataset)) {
    bar.hidden = false;
    bar.querySelector("[data-unsent]").hidden = isSaved;
    bar.querySelector("[data-arrived]").hidden = !isSaved;
    for (const one of bar.querySelectorAll("[data-when]")) one.textContent = `on ${new Date(kept.when).toLocaleString()}`;
    bar.querySelector("[data-forget]").addEventListener("click", () => { store.clear(); bar.hidden = true; });
    bar.querySelector("[data-bring]").addEventListener("click", () => {
      const back = document.createElement("form");
      back.method = "post";
      back.action = form.getAttribute("action");
      const token = form.elements.csrfmiddlewaretoken.value;
      // What was saved already comes back under a key of its own.
      const pairs = kept.pairs.filter(([name]) => name !== "do" && !(isSaved && name === "key"));
      for (const [name, value] of [...pairs, ["csrfmiddlewaretoken", token], ["do", "refresh"]]) {
        const input = document.createElement("textarea");
        input.name = name;
        input.value = value;
        back.append(input);
      }
      back.hidden = true;
      document.body.append(back);
      back.submit();
    });
  }
})();
