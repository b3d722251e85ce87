// Says out loud when a request did not arrive, and shows a server's refusal instead of dropping it.
(function () {
  "use strict";
  const trouble = () => document.getElementById("trouble");
  const say = (text) => { const box = trouble(); if (box) { box.textContent = text; box.hidden = !text; } };
  const quiet = (event) => event.detail.elt && event.detail.elt.hasAttribute("data-quiet");
  // The pages a phone keeps for times without signal are one person's: they go at sign-out, and
  // where a page is nobody's or another person's (a session ended, somebody else signed in).
  const forget = () => window.caches && window.caches.delete("floor");
  async function forgetAnothers() {
    const store = window.caches && (await window.caches.has("floor")) && (await window.caches.open("floor"));
    const kept = store && (await store.match("/floor/whose"));
    if (kept && (await kept.text()) !== document.body.dataset.person) forget();
  }
  forgetAnothers().catch(() => {});
  document.addEventListener("htmx:beforeSwap", (event) => {
    // Forms answer 409 or 422 with themselves: what was typed and what is wrong with it.
    if ([409, 422].includes(event.detail.xhr.status)) { event.detail.shouldSwap = true; event.detail.isError = false; }
  });
  document.addEventListener("htmx:sendError", (event) => {
    if (!quiet(event)) say("No connection. Nothing was sent; what you typed is still here. Try again in a moment.");
  });
  document.addEventListener("htmx:responseError", (event) => {
    if (!quiet(event)) say("The server could not do that (" + event.detail.xhr.status + "). Reload the page and try again.");
  });
  document.addEventListener("htmx:afterOnLoad", (event) => { if (event.detail.xhr.status < 400) say(""); });
  document.addEventListener("click", (event) => {
    const copier = event.target.closest("[data-copy]");
    if (copier) {
      const source = document.getElementById(copier.dataset.copy);
      navigator.clipboard.writeText(source.value || source.textContent.trim()).then(() => { copier.textContent = copier.dataset.copied || "Copied"; });
    }
    if (event.target.closest("[data-print]")) window.print();
  });
  // What was typed before these scripts had come is looked up now: no key press would say so again.
  document.addEventListener("htmx:load", (event) => {
    if (event.target !== document.body) return;
    document.querySelectorAll('[hx-trigger^="input"]').forEach((asked) => {
      const typed = Array.from(asked.elements || [asked]).some((field) => "defaultValue" in field && field.value !== field.defaultValue);
      if (typed) window.htmx.trigger(asked, asked.elements ? "input" : "search");
    });
  });
  // What is folded is printed, too, also where a browser would leave it out.
  let folded = [];
  window.addEventListener("beforeprint", () => {
    folded = [...document.querySelectorAll("details.fold:not([open])")];
    folded.forEach((part) => { part.open = true; });
  });
  window.addEventListener("afterprint", () => { folded.forEach((part) => { part.open = false; }); });
  document.addEventListener("submit", (event) => {
    if (/\/(sign-out|join)\//.test(event.target.action)) forget();
    const question = event.target.dataset.ask;
    if (question && !window.confirm(question)) { event.preventDefault(); event.stopImmediatePropagation(); }
  }, true);
})();
