// Keep what is typed on the server: a second after typing stops, on leaving a field, and when the page goes away.
"use strict";
(() => {
  const shared = window.submitForm;
  if (!shared || !shared.copy || "saved" in shared.form.dataset) return;
  const { form, state, copy } = shared;
  const SOON_MS = 1000;
  const AGAIN_MS = [3000, 6000, 12000, 30000];
  const ONCE_MOST = 60000; // bytes that a browser still sends for a page that is going away
  const id = Math.random().toString(36).slice(2) + Date.now().toString(36);
  let version = Number(form.dataset.version);
  let sent = 0; // counts what this page has sent, so that an older copy never overtakes a newer one
  let dirty = false;
  let busy = false;
  let stopped = "conflict" in form.dataset;
  let failed = 0;
  let timer;

  const tab = document.createElement("input");
  tab.type = "hidden";
  tab.name = "tab";
  form.append(tab);
  const numbered = () => `${id}/${(sent += 1)}`;

  const say = (text, kind = "") => { state.replaceChildren(text); state.dataset.kind = kind; };
  const link = (text, href) => Object.assign(document.createElement("a"), { textContent: text, href });
  const clock = (at) => new Date(at).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
  const onDevice = () => (copy.keep(version) ? "kept on this device" : "and this browser keeps no copy");
  const later = (wait = AGAIN_MS[Math.min(failed, AGAIN_MS.length - 1)]) => {
    clearTimeout(timer);
    timer = setTimeout(keep, wait);
  };
  const resume = `${form.getAttribute("action")}?draft=${form.dataset.key}`;

  async function keep(going = false) {
    clearTimeout(timer);
    if (!dirty || busy || stopped) return;
    busy = true;
    dirty = false;
    const body = { fields: { ...shared.fields(), key: form.dataset.key }, version, tab: numbered() };
    const small = JSON.stringify(body).length < ONCE_MOST;
    try {
      const answer = await shared.ask(form.dataset.keep, body, { keepalive: going && small });
      const told = await answer.json().catch(() => ({}));
      busy = false;
      failed = 0;
      heard(answer.status, told);
    } catch {
      busy = false;
      dirty = true;
      say(`Not saved: no connection; ${onDevice()}, tries again.`, "waits");
      later();
      failed += 1;
    }
  }

  function heard(status, told) {
    if (status === 200) {
      if (!told.version) return;
      version = told.version;
      form.elements.version.value = version;
      if (dirty) { copy.keep(version); later(SOON_MS); } else copy.drop();
      say(`Saved ${clock(told.at)}`, "saved");
      if (!window.location.search.includes("draft=")) window.history.replaceState(null, "", resume);
    } else if (status === 409) {
      stopped = true;
      copy.keep(version);
      ask(told);
    } else if (status === 410) {
      stopped = true;
      copy.drop();
      state.replaceChildren("This form was handed in: ", link("see the study", told.study));
    } else if (status === 401 || status === 403) {
      dirty = true;
      const back = version ? resume : form.dataset.start; // where the copy on this device is brought back
      const words = status === 401 ? "you are logged out" : "you have logged in anew since this page was opened";
      state.replaceChildren(`Not saved: ${words}; ${onDevice()}. `);
      state.append(status === 401
        ? link("Log in and come back", `${told.login}?next=${encodeURIComponent(back)}`)
        : link("Go on with it", back));
      state.dataset.kind = "waits";
      later(30000);
    } else {
      dirty = true;
      say(`Not saved: ${told.message || `the server answered ${status}`} ${onDevice()}.`, "waits");
      later(30000);
    }
  }

  // Somewhere else something was typed that this page has not seen.
  function ask(told) {
    const few = (told.differs || []).slice(0, 3).map((one) => `${one.what}: here “${one.here}”, there “${one.there}”`);
    const count = (told.differs || []).length + (told.more || 0) - few.length;
    const rest = count > 0 ? `; and ${count} more` : "";
    say(`Not saved: this form was changed in another tab or on another device at ${clock(told.at)} (${few.join("; ")}${rest}). Which is to stand?`, "asks");
    const choose = form.querySelector("[data-choose]");
    choose.hidden = false;
    choose.querySelector("[data-keep-mine]").onclick = () => {
      choose.hidden = true;
      stopped = false;
      dirty = true;
      version = told.version;
      form.elements.version.value = version;
      keep();
    };
    choose.querySelector("[data-take-theirs]").onclick = () => {
      copy.drop();
      dirty = false;
      window.location.assign(resume);
    };
  }

  form.addEventListener("input", (event) => {
    if (event.target.name === "add-joint" || event.target.name === "differs" || (event.target.name || "").endsWith("-paste")) return;
    dirty = true;
    if (stopped) { copy.keep(version); return; }
    later(failed ? undefined : SOON_MS);
    if (failed) copy.keep(version);
  });
  form.addEventListener("focusout", () => { if (dirty && !failed) later(0); });
  window.addEventListener("online", () => { failed = 0; if (dirty) later(0); });
  window.addEventListener("offline", () => {
    if (!stopped) say(`No connection: what you type is ${onDevice()}, and saved once there is one.`, "waits");
  });
  const leave = () => {
    if (!dirty) return;
    copy.keep(version); // for the case that it doesn't arrive
    keep(true);
  };
  window.addEventListener("pagehide", leave);
  document.addEventListener("visibilitychange", () => { if (document.visibilityState === "hidden") leave(); });

  form.addEventListener("submit", (event) => {
    if (!navigator.onLine) {
      event.preventDefault();
      say(`No connection: ${onDevice()}. It can be sent as soon as there is one.`, "waits");
      return;
    }
    tab.value = numbered();
    if (!stopped) copy.keep(version);
    clearTimeout(timer);
    dirty = false; // it goes along with the form
  });
})();
