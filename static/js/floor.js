// The floor on a phone: marks made without signal are kept and sent once; lists follow the server.
(function () {
  "use strict";
  const RETRY_MS = 20000;
  const SOON_MS = 1000;
  const PATIENCE_MS = 12000;
  const BOUNCE_MS = 700;
  const NEVER_ARRIVED = [0, 403, 408, 425, 429, 500, 502, 503, 504];
  const panel = document.getElementById("kept");
  if (!panel) return;
  const words = panel.dataset;
  const person = words.person;
  let signedOut = false;
  // A weak signal can hold a request for minutes: after this it is kept and sent again later.
  window.htmx.config.timeout = PATIENCE_MS;

  // ---- the store --------------------------------------------------------------------------
  const opened = new Promise((resolve, reject) => {
    const request = indexedDB.open("floor", 1);
    request.onupgradeneeded = () => request.result.createObjectStore("marks", { keyPath: "key" });
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });
  opened.catch(() => {});
  async function store(mode, work) {
    const database = await opened;
    return new Promise((resolve, reject) => {
      const transaction = database.transaction("marks", mode);
      const request = work(transaction.objectStore("marks"));
      transaction.oncomplete = () => resolve(request.result);
      transaction.onerror = transaction.onabort = () => reject(transaction.error);
    });
  }
  const all = async () => (await store("readonly", (marks) => marks.getAll())).sort((a, b) => a.order - b.order);
  const save = (row) => store("readwrite", (marks) => marks.put(row));
  const drop = (key) => store("readwrite", (marks) => marks.delete(key));

  function newKey() {
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 15) | 64; bytes[8] = (bytes[8] & 63) | 128;
    const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  }

  // ---- keeping ----------------------------------------------------------------------------
  const tapped = new WeakMap(); // form -> the button that sent it: it says how a piece came out
  const keepable = (element) => element && element.closest && element.closest("form[data-keep]");

  document.addEventListener("htmx:configRequest", (event) => {
    const form = keepable(event.detail.elt);
    if (!form) return;
    // A page from the phone's own store may carry a key that was used already.
    event.detail.parameters.client_key = form.dataset.key = newKey();
    form.dataset.tapped = Date.now();
    const by = event.detail.triggeringEvent && event.detail.triggeringEvent.submitter;
    if (by) tapped.set(form, by); else tapped.delete(form);
    if (!navigator.onLine) { event.preventDefault(); keep(form); }
  });
  document.addEventListener("htmx:beforeRequest", (event) => {
    if (!event.detail.elt.hasAttribute("data-live")) return;
    if (busy()) event.preventDefault();
    looks.set(event.detail.xhr, answered);
  });
  // Signed out meanwhile: the list stays, what is kept stays in sight, and a link leads back in.
  document.addEventListener("htmx:beforeOnLoad", (event) => {
    if (event.detail.xhr.getResponseHeader("HX-Refresh") !== "true") return;
    event.preventDefault();
    const form = keepable(event.detail.elt);
    signedOut = true;
    forgetPages();
    if (form) keep(form); else draw();
  });
  document.addEventListener("htmx:sendError", (event) => { const form = keepable(event.detail.elt); if (form) keep(form); });
  document.addEventListener("htmx:timeout", (event) => { const form = keepable(event.detail.elt); if (form) keep(form); });
  document.addEventListener("htmx:responseError", (event) => {
    const form = keepable(event.detail.elt);
    if (form && NEVER_ARRIVED.includes(event.detail.xhr.status)) keep(form).then(send);
  });

  async function keep(form) {
    const fields = Object.fromEntries(new FormData(form));
    delete fields.csrfmiddlewaretoken;
    const by = tapped.get(form);
    if (by && by.name) fields[by.name] = by.value;
    const said = by && by.value ? by.textContent.trim() : typedIn(form);
    fields.client_key = form.dataset.key;
    const row = { key: form.dataset.key, order: Number(form.dataset.tapped), url: form.getAttribute("action"), fields, what: form.dataset.keep, said, tapped: Number(form.dataset.tapped), person, state: "waiting", why: "", asks: false, confirm: null };
    try { await save(row); } catch (error) { say(words.noStore); return; }
    // What is kept is no longer being typed: it would hold up every later look at the server.
    form.reset();
    retold(form);
    hush();
    await draw();
  }
  function retold(form) { for (const field of form.querySelectorAll("input[data-wanted]")) field.dispatchEvent(new Event("input", { bubbles: true })); }
  function putBack(row) {
    const form = Array.from(document.querySelectorAll("form[data-keep]")).find((one) => one.dataset.keep === row.what);
    for (const field of form ? form.querySelectorAll("input:not([type=hidden]), textarea") : []) {
      if (field.type === "checkbox") field.checked = field.name in row.fields; else if (field.name in row.fields) field.value = row.fields[field.name];
    }
    if (form) retold(form);
  }
  function typedIn(form) {
    const field = form.querySelector("input[data-wanted], input[inputmode=decimal]");
    const text = field ? field.value.trim() : "";
    const unit = text && field.parentElement.querySelector(".unit");
    return unit && !/[a-z]/i.test(text) ? text + " " + unit.textContent : text;
  }
  function hush() { const trouble = document.getElementById("trouble"); if (trouble) trouble.hidden = true; }

  // ---- sending ----------------------------------------------------------------------------
  // One try at a time on a phone, whatever pages are open. Signal that comes back, or a tap, while a
  // try is on its way has another follow: the one before may have left without signal, and fail.
  let next = null;
  let last = Promise.resolve();
  function send() {
    if (!next) next = inTurn(() => { next = null; return sendAll(); });
    return next;
  }
  function inTurn(work) {
    if (navigator.locks) return navigator.locks.request("floor-send", work);
    return (last = last.then(work, work));
  }
  // Signal is told of before it carries anything: the next tries come soon, then ever later.
  let pause = SOON_MS;
  function sendSoon() {
    if (!navigator.onLine || pause >= RETRY_MS) return;
    setTimeout(send, pause);
    pause *= 2;
  }

  async function sendAll() {
    try {
      const rows = (await all()).filter((row) => row.state === "waiting" && row.person === person);
      if (!rows.length) return;
      const token = await freshToken();
      if (!token) return;
      let recorded = 0;
      for (const row of rows) {
        if (!(await sendOne(row, token))) break;
        if (row.state === "waiting") { recorded += 1; sent.add(row.what); }
      }
      if (recorded) { pause = SOON_MS; touchedAt = 0; refresh(); }
    } catch (error) {
      // Still no signal: the rows stay, the next try is at the next sign of it.
      sendSoon();
    } finally { await draw(); }
  }
  // A request that hangs holds up every try after it, and the phone's own patience is minutes.
  function ask(url, options) {
    const patience = new AbortController();
    setTimeout(() => patience.abort(), PATIENCE_MS);
    return fetch(url, { ...options, credentials: "same-origin", redirect: "manual", signal: patience.signal });
  }

  async function freshToken() {
    const answer = await ask(words.token, { headers: { "HX-Request": "true" }, cache: "no-store" });
    signedOut = answer.type === "opaqueredirect" || answer.status === 204 || answer.status === 403;
    if (signedOut) forgetPages();
    if (!answer.ok || signedOut) return "";
    const said = await answer.json();
    signedOut = String(said.person) !== person;
    return signedOut ? "" : said.token;
  }
  function forgetPages() {
    if (navigator.serviceWorker && navigator.serviceWorker.controller) navigator.serviceWorker.controller.postMessage({ kind: "forget" });
  }

  async function sendOne(row, token) {
    const body = new URLSearchParams(row.fields);
    body.set("kept_seconds", Math.max(0, Math.round((Date.now() - row.tapped) / 1000)));
    const answer = await ask(row.url, { method: "POST", body, headers: { "X-CSRFToken": token, "X-Kept": "true" } }).finally(() => { answered += 1; });
    if (answer.type === "opaqueredirect") { signedOut = true; return false; }
    if (NEVER_ARRIVED.includes(answer.status) && answer.status !== 403) return false;
    if (answer.ok) { await drop(row.key); return true; }
    const said = await answer.json().catch((error) => {
      if (!(error instanceof SyntaxError)) throw error; // cut off on its way, so nothing is known of it
      return { message: answer.status === 403 ? words.forbidden : words.gone, asks: false };
    });
    await save(Object.assign(row, { state: "refused", why: said.message, asks: said.asks, confirm: said.confirm || null }));
    return true;
  }

  // ---- showing ----------------------------------------------------------------------------
  async function draw() {
    let rows = [];
    try { rows = await all(); } catch (error) { return; }
    const list = document.getElementById("kept-rows");
    if (!list.contains(document.activeElement)) list.replaceChildren(...rows.map(drawn));
    panel.querySelector("[data-send]").hidden = !rows.some((row) => row.state === "waiting" && row.person === person);
    panel.querySelector(".kept-sign-in").hidden = !signedOut;
    say(signedOut ? words.signedOut : navigator.onLine ? "" : words.offline);
    panel.hidden = !rows.length && navigator.onLine && !signedOut;
    noteForms(rows);
  }
  function say(text) {
    const state = panel.querySelector(".kept-state");
    state.textContent = text; state.hidden = !text;
    if (text) panel.hidden = false;
  }
  function drawn(row) {
    const item = document.getElementById("kept-row").content.firstElementChild.cloneNode(true);
    const mine = row.person === person;
    item.dataset.key = row.key;
    item.classList.toggle("refused", row.state === "refused");
    item.querySelector(".kept-what").textContent = row.what + (row.said ? " · " + row.said : "");
    item.querySelector(".kept-when").textContent = new Date(row.tapped).toLocaleString(document.documentElement.lang, { weekday: "short", hour: "2-digit", minute: "2-digit", hour12: false, timeZone: words.zone || undefined });
    item.querySelector(".kept-why").textContent = !mine ? words.other : row.state === "refused" ? words.refused + " " + row.why : words.waiting;
    item.querySelector(".kept-reason").hidden = !(mine && row.asks && row.state === "refused");
    item.querySelector("[data-sure]").hidden = !(mine && row.confirm && row.state === "refused");
    item.querySelector("[data-undo]").hidden = !(mine && row.state === "waiting");
    item.querySelector("[data-throw]").hidden = !(mine && row.state === "refused");
    return item;
  }
  const sent = new Set(); // what came through and must not look undone until the page shows it
  function noteForms(rows) {
    const waiting = new Set(rows.filter((row) => row.state === "waiting" && row.person === person).map((row) => row.what));
    for (const form of document.querySelectorAll("form[data-keep]")) {
      const isKept = waiting.has(form.dataset.keep);
      const isSent = !isKept && sent.has(form.dataset.keep);
      form.classList.toggle("is-kept", isKept);
      form.classList.toggle("is-sent", isSent);
      const note = form.querySelector(".kept-note");
      if (!note) continue;
      note.dataset.kept = note.dataset.kept || note.textContent;
      note.textContent = isSent ? words.sent : note.dataset.kept;
      note.hidden = !(isKept || isSent);
    }
    noteJump(rows.filter((row) => row.person === person));
    document.dispatchEvent(new CustomEvent("floor:kept"));
  }

  // The panel is at the top: further down the bar says that something is kept, or was not taken.
  function noteJump(mine) {
    const jump = document.querySelector(".jump [data-kept]");
    if (!jump) return;
    jump.hidden = !mine.length;
    jump.querySelector("b").textContent = mine.length;
    jump.classList.toggle("refused", mine.some((row) => row.state === "refused"));
  }

  panel.addEventListener("click", async (event) => {
    const item = event.target.closest(".kept-row");
    if (event.target.closest("[data-send]")) { await send(); return; }
    if (item && event.target.closest("[data-sure]")) { await sendAgain(item); return; }
    if (item && event.target.closest("[data-undo]")) {
      event.target.blur();
      const row = (await all()).find((kept) => kept.key === item.dataset.key);
      await drop(item.dataset.key);
      await draw();
      if (row) putBack(row);
    }
    if (item && event.target.closest("[data-throw]") && window.confirm(words.drop)) { event.target.blur(); await drop(item.dataset.key); await draw(); }
  });
  panel.addEventListener("submit", async (event) => {
    event.preventDefault();
    const reason = event.target.querySelector("textarea").value.trim();
    if (reason) await sendAgain(event.target.closest(".kept-row"), { reason });
  });
  async function sendAgain(item, more) {
    const row = (await all()).find((kept) => kept.key === item.dataset.key);
    if (!row || row.state !== "refused") return;
    Object.assign(row.fields, more || row.confirm);
    await save(Object.assign(row, { state: "waiting", why: "", asks: false, confirm: null }));
    document.activeElement.blur();
    await draw();
    await send();
  }

  // ---- following the server ---------------------------------------------------------------
  // A look shows the floor as it was when it began: one that a mark has overtaken, or under which
  // somebody has begun to type, is not shown. The next look is.
  let answered = 0; // marks sent, whatever became of them
  const looks = new WeakMap(); // a look's request -> how many were answered when it began
  const unseen = new WeakSet(); // looks that are not shown
  document.addEventListener("htmx:beforeSwap", (event) => {
    const look = event.detail.xhr;
    if (!looks.has(look) || (looks.get(look) === answered && !busy())) return;
    unseen.add(look);
    event.detail.shouldSwap = false;
  });
  let touchedAt = 0;
  for (const kind of ["pointerdown", "keydown"]) document.addEventListener(kind, () => { touchedAt = Date.now(); }, true);
  function busy() {
    const list = document.getElementById("floor-list");
    if (!list || signedOut) return true;
    if (list.querySelector(".htmx-request")) return true;
    if (list.querySelector("details.more[open]") && Date.now() - touchedAt < 120000) return true;
    return typing(list);
  }
  function typing(list) {
    const active = document.activeElement;
    if (list.contains(active) && active.matches("input, textarea, select")) return true;
    if (Array.from(list.querySelectorAll("input[name=lot]")).some((field) => field.value !== field.defaultValue)) return true;
    return Array.from(list.querySelectorAll("textarea, input[type=time], input[inputmode=decimal]")).some((field) => field.value.trim());
  }
  function refresh() {
    const list = document.getElementById("floor-list");
    if (list && !busy()) window.htmx.trigger(list, "refresh");
    const piece = document.getElementById("piece-page");
    if (sent.size && piece && !typing(piece) && navigator.onLine) location.reload();
  }
  document.addEventListener("htmx:afterRequest", (event) => {
    const look = event.detail.xhr;
    if (event.detail.requestConfig.verb !== "get") answered += 1;
    if (unseen.has(look)) setTimeout(refresh);
    else if (event.detail.successful && looks.has(look)) { sent.clear(); draw(); }
  });
  document.addEventListener("htmx:afterSettle", (event) => {
    draw();
    const note = event.target.querySelector && event.target.querySelector("[data-focus]");
    if (note) note.focus();
  });
  // A glove bounces: the button that takes a mark's place does nothing for a moment.
  const html = document.documentElement;
  document.addEventListener("htmx:afterSwap", (event) => {
    if (!event.detail.requestConfig || event.detail.requestConfig.verb !== "post" || event.detail.xhr.status >= 400) return;
    html.dataset.settling = "yes";
    setTimeout(() => { delete html.dataset.settling; }, BOUNCE_MS);
  });
  document.addEventListener("click", (event) => {
    if (html.dataset.settling && event.target.closest("[data-card] button")) { event.preventDefault(); event.stopImmediatePropagation(); }
  }, true);
  document.addEventListener("change", (event) => { if (event.target.hasAttribute("data-submit")) event.target.form.requestSubmit(); });
  document.addEventListener("visibilitychange", () => { if (!document.hidden) { send(); refresh(); } });
  window.addEventListener("online", () => { pause = SOON_MS; draw(); send().then(refresh); });
  window.addEventListener("offline", draw);
  window.addEventListener("pageshow", () => { draw(); });
  setInterval(send, RETRY_MS);

  // ---- opening without signal -------------------------------------------------------------
  if (navigator.serviceWorker) {
    navigator.serviceWorker.addEventListener("message", (event) => { if (event.data.kind === "kept") html.dataset.offlineReady = "yes"; });
    navigator.serviceWorker.register(words.worker, { scope: words.floor }).then(() => navigator.serviceWorker.ready).then((registration) => {
      if (!navigator.onLine) return;
      const files = Array.from(document.querySelectorAll("link[rel=stylesheet], link[rel=icon], script[src]"), (element) => element.href || element.src);
      const pages = [location.href.split("#")[0], new URL(words.floor, location.href).href];
      registration.active.postMessage({ kind: "keep", person, urls: Array.from(new Set([...pages, ...files])) });
    }).catch(() => {});
  }
  draw().then(send);
})();
