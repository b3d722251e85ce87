// The weigh sheet on a phone: says at once what is off tolerance, and goes on to the next line while
// ticks are kept without signal. What is kept is floor.js's to send.
(function () {
  "use strict";

  // ---- off tolerance, while it is typed ---------------------------------------------------------
  document.addEventListener("input", (event) => {
    const field = event.target.closest("input[data-wanted]");
    if (!field) return;
    const form = field.form;
    const hint = form.querySelector(".hint");
    const wanted = form.querySelector("[name=as_wanted]");
    const text = field.value.trim().replace(",", ".");
    wanted.disabled = Boolean(text);
    const shown = /^(\d+\.?\d*|\.\d+)$/.test(text) ? Number(text) : NaN;
    hint.hidden = Number.isNaN(shown);
    if (hint.hidden) return;
    const off = shown - Number(field.dataset.wanted);
    const fits = Math.abs(off) <= Number(field.dataset.off) + 1e-6;
    hint.classList.toggle("fits", fits);
    const amount = Math.abs(off).toFixed(Number(field.dataset.decimals)) + " " + field.dataset.unit;
    hint.textContent = fits ? "✓" : (off > 0 ? form.dataset.over : form.dataset.under).replace("[off]", amount);
  });

  // ---- kept lines -------------------------------------------------------------------------------
  document.addEventListener("floor:kept", () => {
    let kept = 0;
    for (const item of document.querySelectorAll(".weigh-line")) {
      const form = item.querySelector("form.tick-line.is-kept, form.tick-line.is-sent");
      const is = Boolean(form);
      const sent = is && form.classList.contains("is-sent");
      const was = item.classList.contains("is-kept");
      item.classList.toggle("is-kept", is);
      const flag = item.querySelector(".flag");
      if (flag) {
        flag.dataset.kept = flag.dataset.kept || flag.textContent;
        flag.textContent = sent ? document.getElementById("kept").dataset.sent : flag.dataset.kept;
        flag.hidden = !is;
      }
      kept += is && !sent ? 1 : 0;
      const card = item.querySelector("details.tickable");
      if (card && is && !was) { card.open = false; openNext(item); }
    }
    const count = document.querySelector("[data-kept-count]");
    if (!count) return;
    count.hidden = !kept;
    count.querySelector("b").textContent = String(kept);
  });
  function openNext(item) {
    let next = item.nextElementSibling;
    while (next && (next.classList.contains("done") || next.classList.contains("is-kept"))) next = next.nextElementSibling;
    const card = next && next.querySelector("details.tickable");
    // Nobody opened it: it holds no refresh up.
    if (card) { card.classList.remove("more"); card.open = true; next.classList.add("next"); card.scrollIntoView({ block: "nearest" }); }
  }

  // ---- typed while the answer to another line was on its way -------------------------------------
  let typed = [];
  document.addEventListener("htmx:beforeSwap", (event) => {
    if (event.detail.target.id !== "floor-list") return;
    const sent = event.detail.requestConfig.elt;
    typed = Array.from(event.detail.target.querySelectorAll("form[data-keep] input:not([type=hidden]):not([type=checkbox])"))
      .filter((field) => field.form !== sent && field.value !== field.defaultValue)
      .map((field) => ({ keep: field.form.dataset.keep, name: field.name, value: field.value, active: field === document.activeElement }));
  });
  document.addEventListener("htmx:afterSettle", (event) => {
    if (event.target.id !== "floor-list") return;
    for (const one of typed.splice(0)) {
      const form = Array.from(event.target.querySelectorAll("form[data-keep]")).find((other) => other.dataset.keep === one.keep);
      const field = form && form.elements[one.name];
      if (!field) continue;
      field.value = one.value;
      field.dispatchEvent(new Event("input", { bubbles: true }));
      const card = form.closest("details");
      if (card) card.open = true;
      if (one.active) field.focus();
    }
  });

  // ---- what cannot be kept ----------------------------------------------------------------------
  document.addEventListener("submit", (event) => {
    const words = event.target.dataset.needsSignal;
    if (!words || navigator.onLine) return;
    event.preventDefault();
    const box = document.getElementById("trouble");
    box.textContent = words; box.hidden = false;
  });

  // The phone's own copy of the sheet follows what was ticked.
  document.addEventListener("htmx:afterSwap", (event) => {
    const worker = navigator.serviceWorker && navigator.serviceWorker.controller;
    const config = event.detail.requestConfig;
    if (!worker || !config || config.verb !== "post" || event.detail.xhr.status >= 400) return;
    worker.postMessage({ kind: "keep", person: document.body.dataset.person, urls: [location.href.split("#")[0]] });
  });
  document.addEventListener("htmx:afterSettle", (event) => {
    if (event.target.id !== "floor-list" || document.activeElement.matches("[data-focus]")) return;
    const next = document.querySelector(".weigh-line.next");
    const rect = next && next.getBoundingClientRect();
    if (rect && (rect.bottom > window.innerHeight || rect.top < 0)) next.scrollIntoView({ block: "nearest" });
  });
})();
