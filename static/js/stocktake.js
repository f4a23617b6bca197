// In a stocktake a scanned label is counted at once, wherever the cursor is; the cursor waits in the code field again.
const field = () => document.querySelector('[data-stocktake] input[name="read"]');
const waiting = [];
let busy = false;

function next() {
  const input = field();
  if (busy || !waiting.length || !input) return;
  input.value = waiting.shift();
  busy = true;
  input.form.requestSubmit();
}

document.addEventListener("lab:scan", (scan) => {
  if (!field()) return;
  scan.preventDefault();
  waiting.push(scan.detail.code);
  next();
});

document.addEventListener("htmx:afterSettle", (settled) => {
  if (settled.target?.id !== "take" && !settled.detail?.elt?.querySelector?.("[data-stocktake]")) return;
  busy = false;
  field()?.focus();
  const said = document.querySelector("[data-counted]");
  if (said?.classList.contains("loud")) {
    document.dispatchEvent(new CustomEvent("lab:say", { detail: { sentence: said.textContent.trim(), level: "warning" } }));
  }
  next();
});
for (const failed of ["htmx:responseError", "htmx:sendError", "htmx:timeout"]) {
  document.addEventListener(failed, () => { busy = false; next(); });
}
