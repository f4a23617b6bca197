// In a stocktake a scanned label is counted at once, wherever the cursor is; the cursor waits in the code field again.
// The form is never exchanged, only what stands below it: a scan that comes while the last one is counted waits its turn.
const form = document.querySelector("[data-stocktake]");
const waiting = [];
let busy = false;

function next() {
  if (busy || !waiting.length) return;
  form.elements.read.value = waiting.shift();
  busy = true;
  form.requestSubmit();
}

function told(said) {
  if (!said) { form.elements.read.select(); return; }
  form.elements.read.value = "";
  if (said.dataset.place) form.elements.place.value = said.dataset.place;
  if (said.classList.contains("loud")) {
    document.dispatchEvent(new CustomEvent("lab:say", { detail: { sentence: said.textContent.trim(), level: "warning" } }));
  }
}

if (form) {
  document.addEventListener("lab:scan", (scan) => {
    scan.preventDefault();
    waiting.push(scan.detail.code);
    next();
  });
  document.addEventListener("htmx:afterSettle", (settled) => {
    if (settled.target?.id !== "take") return;
    busy = false;
    form.elements.read.focus();
    told(settled.target.querySelector("[data-counted]"));
    next();
  });
  for (const failed of ["htmx:responseError", "htmx:sendError", "htmx:timeout"]) {
    document.addEventListener(failed, () => { busy = false; next(); });
  }
}
