// What the page does beside plain forms: each touch and each keystroke is sent at once, and only the part of the screen
// that changed is drawn anew. Nothing is kept in the browser but what was not sent yet. Without this file every form
// works by its buttons.
const form = document.getElementById("note");
const state = document.getElementById("state");

if (form && state) {
  const waiting = new Set(); // names of fields that changed and were not sent
  let sending = false;
  let step = "";
  const touched = []; // buttons in the order of their touches, each sent after what was typed before it
  const stale = new Set(); // steps that are to be drawn anew
  let asking = null;
  let asked = 0;

  const seen = () => form.elements.namedItem("seen");
  const say = (key, bad = false) => {
    state.textContent = key ? state.dataset[key] : "";
    state.classList.toggle("bad", bad);
  };

  function packed() {
    const data = new URLSearchParams();
    const all = new FormData(form);
    data.append("seen", seen().value);
    for (const name of waiting) {
      data.append("_n", name);
      for (const value of all.getAll(name)) data.append(name, value);
    }
    return data;
  }

  async function send() {
    if (sending || (!waiting.size && !touched.length)) return;
    sending = true;
    const data = packed();
    const names = [...waiting];
    const doing = touched.shift();
    waiting.clear();
    if (doing) data.append("do", doing.value);
    data.append("step", doing ? doing.step : step);
    for (const key of stale) data.append("whole", key);
    say("saving");
    try {
      const answer = await fetch(form.action, { method: "POST", body: data, headers: { "X-Part": "1" }, keepalive: true, redirect: "error" });
      if (answer.status === 401) throw new Error("shut");
      if (!answer.ok) throw new Error("lost");
      drawn(await answer.json(), doing);
      if (doing?.link && !lead(doing.link)) location.assign(doing.link.href);
      sending = false;
      say("saved");
      if (waiting.size || touched.length) send();
      else lacks();
    } catch (error) {
      for (const name of names) waiting.add(name);
      if (doing) touched.unshift(doing);
      sending = false;
      say(error.message === "shut" ? "shut" : "lost", true);
      setTimeout(send, 2000);
    }
  }

  // What was sent is on the disk by now: a fault in drawing must never say otherwise, or send it again.
  function drawn(answer, doing) {
    try {
      draw(answer, doing);
    } catch (error) {
      console.error(error);
      if (!waiting.size && !touched.length) location.reload();
    }
  }

  function draw(answer, doing) {
    seen().value = answer.number;
    for (const [key, html] of Object.entries(answer.steps)) {
      const old = document.getElementById(`s-${key}`);
      if (!old) continue;
      if ([...old.querySelectorAll("[name]")].some((one) => waiting.has(one.name))) {
        stale.add(key); // it holds what was not sent yet: nothing is drawn over it, it is asked for again
        continue;
      }
      stale.delete(key);
      replace(old, html, doing && doing.step === key ? doing.group : "");
    }
    for (const [id, html] of Object.entries(answer.places)) {
      const place = document.getElementById(id);
      if (place) place.innerHTML = html.trim();
    }
    if (answer.conflicts) {
      const place = document.getElementById("conflicts");
      place.innerHTML = answer.conflicts;
      place.scrollIntoView({ block: "center" });
    } else if (doing && /^(take|keep)/.test(doing.value)) {
      document.getElementById("conflicts").textContent = "";
    }
    const all = document.getElementById("all");
    if (all) all.hidden = !answer.care;
  }

  function replace(old, html, group) {
    const focus = document.activeElement;
    const mine = old.contains(focus) ? focus : null;
    const kept = mine && { id: mine.id, name: mine.name, value: mine.value, start: mine.selectionStart };
    const open = [...old.querySelectorAll("details[open]")].map((one) => one.closest("[id]").id);
    const made = document.createElement("template");
    made.innerHTML = html;
    const fresh = made.content.firstElementChild;
    old.replaceWith(fresh);
    ready(fresh);
    for (const id of open) fresh.querySelector(`#${CSS.escape(id)} > details`)?.setAttribute("open", "");
    if (!kept) return;
    let next = kept.id ? document.getElementById(kept.id) : null;
    if (!next && kept.name && kept.name !== "do") {
      next = [...fresh.querySelectorAll("input, select, textarea")].find((one) => one.name === kept.name && one.value === kept.value);
    }
    if (!next && group) {
      const place = document.getElementById(group);
      next = place && (place.querySelector("button, input:not([type=hidden]), textarea, select") || place);
    }
    next?.focus({ preventScroll: true });
    if (next && kept.start !== null && next.matches?.("input[type=text], textarea")) next.setSelectionRange?.(kept.start, kept.start);
  }

  async function lacks() {
    asking?.abort();
    asking = new AbortController();
    const number = ++asked;
    const panel = document.getElementById("missing");
    panel.setAttribute("aria-busy", "true");
    try {
      const answer = await fetch(panel.dataset.from, { signal: asking.signal, headers: { "X-Part": "1" } });
      if (!answer.ok || number !== asked) return;
      const open = [...panel.querySelectorAll("details[open]")].map((one) => one.previousElementSibling?.textContent);
      panel.innerHTML = await answer.text();
      for (const one of panel.querySelectorAll("details")) if (open.includes(one.previousElementSibling?.textContent)) one.open = true;
      peek();
    } catch {
      // the next change asks again
    } finally {
      if (number === asked) panel.removeAttribute("aria-busy");
    }
  }

  function peek() {
    const panel = document.getElementById("missing");
    const counts = [...panel.querySelectorAll(".counts > *")].map((one) => one.textContent.trim());
    const words = counts.join(" \u00b7 ") || panel.querySelector("h2")?.textContent || "";
    for (const id of ["peek", "heard"]) {
      const place = document.getElementById(id); // the one is seen, the other is heard
      if (place.textContent !== words) place.textContent = words;
    }
  }

  function note(target) {
    if (!target.name || target.name === "seen" || target.name === "_n" || target.name === "do") return;
    waiting.add(target.name);
    const section = target.closest("[data-step]");
    step = section ? section.dataset.step : "";
    send();
  }

  // One answer of a list goes out where another question of the same element is answered.
  function alone(target) {
    if (target.type === "checkbox" && target.checked && !target.name.endsWith("!")) {
      for (const other of form.querySelectorAll(`input[type=checkbox][name="${CSS.escape(target.name)}"]`)) {
        if (other !== target && other.checked && (target.value === "none" || other.value === "none")) other.checked = false;
      }
    }
    const name = target.name.replace(/[+?]$/, "");
    if (target.name === name && target.value) {
      for (const mark of ["+", "?"]) {
        for (const other of form.querySelectorAll(`[name="${CSS.escape(name + mark)}"]`)) {
          if (other.type === "radio" ? other.checked : other.value) {
            if (other.type === "radio") other.checked = false;
            else if (target.type === "radio") other.value = "";
            else continue;
            waiting.add(other.name);
          }
        }
      }
    }
  }

  form.addEventListener("input", (event) => {
    if (event.target.matches("input[type=text], textarea") && !event.isComposing) note(event.target);
  });
  form.addEventListener("compositionend", (event) => note(event.target)); // an accent made of two keys is one letter
  form.addEventListener("change", (event) => {
    if (event.target.matches("input[type=text], textarea")) return;
    alone(event.target);
    note(event.target);
  });
  form.addEventListener("click", (event) => {
    const radio = event.target.closest("input[type=radio]");
    if (radio && radio.dataset.was === "1") {
      radio.checked = false; // a second touch takes it back
      note(radio);
    }
    if (radio) {
      for (const one of form.querySelectorAll(`input[type=radio][name="${CSS.escape(radio.name)}"]`)) one.dataset.was = one.checked ? "1" : "";
    }
    const by = event.target.closest("button[data-by]");
    if (by) count(by);
    const button = event.target.closest("button[name=do]");
    if (button) {
      event.preventDefault();
      const part = button.closest(".part");
      touched.push({ value: button.value, step: button.closest("[data-step]")?.dataset.step || "", group: part ? part.id : "" });
      send();
    }
  });
  form.addEventListener("keydown", (event) => {
    if (event.key === "Enter" && event.target.matches("input")) event.preventDefault(); // sent already
  });
  form.addEventListener("submit", (event) => {
    if (event.submitter?.classList.contains("sign") && (sending || waiting.size || touched.length)) {
      event.preventDefault();
      const again = event.submitter;
      const wait = setInterval(() => {
        if (sending || waiting.size || touched.length) return;
        clearInterval(wait);
        form.requestSubmit(again);
      }, 50);
    }
  });

  function count(button) {
    const input = document.getElementById(button.dataset.for);
    const by = Number(button.dataset.by);
    const now = input.value.trim() === "" ? (by > 0 ? 0 : Math.abs(by)) : Number(input.value.replace(",", "."));
    if (Number.isNaN(now)) return;
    input.value = String(Math.max(0, now + by));
    note(input);
  }

  function ready(place) {
    for (const one of place.querySelectorAll("button[data-by]")) one.hidden = false;
    for (const one of place.querySelectorAll("input[type=radio]")) one.dataset.was = one.checked ? "1" : "";
  }

  // A line of the list leads to its field; where the field is on the screen already, nothing is loaded.
  document.getElementById("missing").addEventListener("click", (event) => {
    const link = event.target.closest("a[data-to]");
    if (!link) return;
    event.preventDefault();
    if (lead(link)) return;
    const near = document.getElementById(link.dataset.or)?.closest("[data-step]");
    touched.push({ value: `open:${link.dataset.open}`, step: near ? near.dataset.step : "", group: "", link });
    send();
  });

  function lead(link) {
    const field = document.getElementById(link.dataset.to);
    if (!field) return false;
    for (const one of document.querySelectorAll(".sought")) one.classList.remove("sought");
    field.classList.add("sought");
    field.scrollIntoView({ block: "center" });
    (field.querySelector("input:not([type=hidden]), textarea, select, button") || field).focus({ preventScroll: true });
    return true;
  }

  window.addEventListener("beforeunload", (event) => {
    if (sending || waiting.size || touched.length) event.preventDefault();
  });
  document.addEventListener("visibilitychange", send);
  ready(form);
  peek();
}
