// Keeps the week alive: opened tables stay open when it is drawn anew, and a lost connection is said softly.
(function () {
  "use strict";
  let open = [];
  let lostAt = null;
  const week = () => document.getElementById("week");
  const isWeek = (event) => event.detail.target && event.detail.target.id === "week";

  document.addEventListener("htmx:beforeSwap", (event) => {
    if (isWeek(event)) open = [...week().querySelectorAll("details[open][id]")].map((details) => details.id);
  });
  document.addEventListener("htmx:afterSettle", () => {
    if (!week()) return;
    open.forEach((id) => { const details = document.getElementById(id); if (details) details.open = true; });
    open = [];
    say();
  });

  function clock(moment, zone) {
    try { return moment.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit", timeZone: zone }); }
    catch { return moment.toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" }); }
  }
  function say() {
    const box = document.getElementById("offline");
    if (!box) return;
    box.hidden = lostAt === null;
    if (lostAt) box.textContent = "No connection since " + clock(lostAt, box.dataset.zone) + ". What you see is from then; it goes on by itself.";
  }
  const lost = (event) => { if (event.detail.elt && event.detail.elt.hasAttribute("data-quiet")) { lostAt = lostAt || new Date(); say(); } };
  document.addEventListener("htmx:sendError", lost);
  document.addEventListener("htmx:timeout", lost);
  document.addEventListener("htmx:responseError", lost);
  document.addEventListener("htmx:afterOnLoad", (event) => { if (event.detail.xhr.status < 400) { lostAt = null; say(); } });
  // On paper nothing can be opened: what stands against the week is printed with all its reasons.
  let opened = null;
  window.addEventListener("beforeprint", () => { opened = document.querySelector("#standing-others:not([open])"); if (opened) opened.open = true; });
  window.addEventListener("afterprint", () => { if (opened) opened.open = false; });
  document.documentElement.classList.add("scripted");
})();
