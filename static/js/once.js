// A form that is on its way is not sent again by a second press. The server has its own guard (a one-time key);
// this only spares the person the surprise. Whatever the answer is, the form can be sent again afterwards.
const LONGEST_WAIT = 8000; // milliseconds; then the line is taken to be dead and pressing again is allowed

const release = (form) => form.removeAttribute("aria-busy");

document.addEventListener("submit", (event) => {
  const form = event.target;
  const method = (event.submitter?.getAttribute("formmethod") ?? form.getAttribute("method") ?? "").toLowerCase();
  const sends = method === "post" || form.hasAttribute("hx-post");
  if (!sends || form.hasAttribute("data-often")) return;
  if (form.getAttribute("aria-busy") === "true") {
    event.preventDefault();
    event.stopImmediatePropagation();
    return;
  }
  form.setAttribute("aria-busy", "true");
  const elsewhere = (event.submitter?.getAttribute("formtarget") ?? form.target) === "_blank";
  setTimeout(release, elsewhere ? 1500 : LONGEST_WAIT, form);
}, true);

for (const done of ["htmx:afterRequest", "htmx:sendError", "htmx:timeout"]) {
  document.addEventListener(done, (event) => { if (event.target.closest) release(event.target.closest("form") ?? event.target); });
}
// Back from the next page: the browser may show this one as it was left.
window.addEventListener("pageshow", () => document.querySelectorAll('form[aria-busy="true"]').forEach(release));
