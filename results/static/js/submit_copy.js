// A copy in this browser of what the server has not got yet: for no connection, a flat battery, or a login that ran
// out. It goes as soon as the server has it.
"use strict";
(() => {
  const box = document.querySelector("[data-local]");
  const user = box && box.dataset.user;
  if (!user) return;
  const PREFIX = `breakbook-form-${user}-`;
  const DAYS = 7;
  const named = (key) => `${PREFIX}${key}`;

  const copies = {
    get(key) { try { return JSON.parse(localStorage.getItem(named(key))); } catch { return null; } },
    set(key, copy) {
      try { localStorage.setItem(named(key), JSON.stringify(copy)); return true; } catch { return false; /* full or forbidden */ }
    },
    drop(key) { try { localStorage.removeItem(named(key)); } catch { /* forbidden */ } },
    all() {
      try {
        const names = Object.keys(localStorage).filter((name) => name.startsWith(PREFIX));
        const found = names.map((name) => ({ key: name.slice(PREFIX.length), ...this.get(name.slice(PREFIX.length)) }));
        return found.filter((one) => one.fields).sort((one, other) => other.when - one.when);
      } catch { return []; }
    },
  };
  const arrived = (document.cookie.match(/(?:^|; )arrived=([0-9a-f-]+)/) || [])[1];
  if (arrived) copies.drop(arrived);
  for (const one of copies.all()) if (Date.now() - one.when > DAYS * 864e5) copies.drop(one.key);

  // Send a copy to the form, which answers with all of it laid out.
  const bring = (copy, key) => {
    const back = box.querySelector("form");
    const fields = { ...copy.fields, key, version: String(copy.version || 0), by: user, do: "refresh" };
    for (const [name, value] of Object.entries(fields)) {
      const input = document.createElement("textarea");
      input.name = name;
      input.value = value;
      back.append(input);
    }
    back.submit();
  };

  const offer = (copy) => {
    box.hidden = false;
    const title = copy.fields["study-title"];
    box.querySelector("[data-what]").textContent = title ? `“${title}”` : "A form";
    box.querySelector("[data-when]").textContent = new Date(copy.when).toLocaleString();
    box.querySelector("[data-forget]").addEventListener("click", () => { copies.drop(copy.key); box.hidden = true; });
    box.querySelector("[data-bring]").addEventListener("click", () => bring(copy, copy.key));
  };

  const shared = window.submitForm;
  if (!shared) { // the page that a submission starts from
    const [newest] = copies.all();
    if (newest) offer(newest);
    return;
  }

  const { form } = shared;
  const key = form.dataset.key;
  shared.copy = {
    keep(version) { return copies.set(key, { when: Date.now(), version, fields: shared.fields() }); },
    drop() { copies.drop(key); },
  };
  for (const one of document.querySelectorAll("a[data-take-theirs]")) one.addEventListener("click", () => copies.drop(key));

  const mine = copies.get(key);
  const version = Number(form.dataset.version);
  if (!("fresh" in form.dataset)) { // what was sent is kept by the server, unless it says otherwise
    if (version && !("conflict" in form.dataset)) copies.drop(key);
    return;
  }
  const same = (one) => JSON.stringify(Object.entries(one).sort()) === JSON.stringify(Object.entries(shared.fields()).sort());
  if (mine && mine.fields && !same(mine.fields)) {
    // Newer than what the server has: it is brought back, and if the server has something newer too, that page asks.
    bring(mine, key);
  } else if (mine) {
    copies.drop(key);
  } else if (!version && !("begun" in form.dataset)) {
    const [other] = copies.all();
    if (other) offer(other);
  }
})();
