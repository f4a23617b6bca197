// A link marked data-in-place opens the form at its address in place of the ruled section it stands in. Sent, the form
// comes back with what is wrong, or the page comes back fresh around it: the server says which (core.views.see_other).
// Without this script the same link opens the same form on a page of its own.
const FORM = "#main > :not(.head)"; // what of a page belongs to the form: all but its head
const WHOLE = "#docket";

function open(part, address) {
  part.dataset.open = address;
  const headers = { "X-In-Place": location.pathname };
  window.htmx.ajax("GET", address, { target: `#${CSS.escape(part.id)} > div`, select: FORM, swap: "innerHTML", headers });
}

function close() {
  window.htmx.ajax("GET", location.pathname + location.search, { target: WHOLE, select: WHOLE, swap: "outerHTML" });
}

// A form in a section sends to the address it came from, and its answer takes the place it stands in.
function settle(part) {
  for (const form of part.querySelectorAll('form[method="post"]:not([action]):not([hx-post])')) {
    const about = { "hx-post": part.dataset.open, "hx-target": `#${CSS.escape(part.id)} > div`, "hx-select": FORM, "hx-swap": "innerHTML" };
    about["hx-headers"] = JSON.stringify({ "X-In-Place": location.pathname });
    if (form.enctype === "multipart/form-data") about["hx-encoding"] = form.enctype;
    for (const [name, value] of Object.entries(about)) form.setAttribute(name, value);
    window.htmx.process(form);
  }
}

document.addEventListener("click", (press) => {
  const link = press.target.closest?.("a[href]");
  if (!link || press.button || press.ctrlKey || press.metaKey || press.shiftKey || press.altKey) return;
  const part = link.closest(`${WHOLE} section.part[id]`);
  if (!part) return;
  const back = part.dataset.open && link.closest("form .acts") && new URL(link.href).pathname === location.pathname;
  if (!back && !link.hasAttribute("data-in-place")) return;
  press.preventDefault();
  if (back) close();
  else open(part, link.getAttribute("href"));
});

document.addEventListener("htmx:afterSettle", ({ target }) => {
  const part = target.closest?.("section.part[data-open]");
  if (!part || target.parentElement !== part) return;
  settle(part);
  (part.querySelector("[aria-invalid=true]") ?? part.querySelector("form :is(input, select, textarea):not([type=hidden])"))?.focus();
});
