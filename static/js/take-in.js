// The take-in page by keyboard: arrows walk through the list of known customers, letters through a group of picks,
// and the cursor goes on where one would go on after a customer was taken or an item added.
const SETTLED = 120; // milliseconds without another key: a hand scanner types faster, and must not pick anything

function step(from, by) {
  const list = [...(from.closest(".answers") ?? document).querySelectorAll("[data-answers] button")];
  list[list.indexOf(from) + by]?.focus();
}

document.addEventListener("keydown", (press) => {
  const here = press.target;
  if (!(here instanceof HTMLElement) || press.ctrlKey || press.metaKey || press.altKey) return;
  const who = here.closest(".who");
  if (!who || !["ArrowDown", "ArrowUp", "Escape"].includes(press.key)) return;
  const listed = here.matches("[data-answers] button");
  const typing = here.matches('input[id$="-phone"], input[id$="-name"]');
  if (!listed && !typing) return;
  const first = who.querySelector("[data-answers] button");
  if (typing && press.key === "ArrowDown" && first) first.focus();
  else if (listed && press.key === "ArrowDown") step(here, 1);
  else if (listed && press.key === "ArrowUp" && here !== first) step(here, -1);
  else if (listed) who.querySelector('input[id$="-name"]').focus();
  else return;
  press.preventDefault();
});

let waiting = 0;
document.addEventListener("keydown", (press) => {
  clearTimeout(waiting);
  const here = press.target;
  if (!here.matches?.('.intake .picks input') || !/^[\p{L}\p{N}]$/u.test(press.key) || press.ctrlKey || press.metaKey || press.altKey) return;
  const group = [...here.form.elements].filter((other) => other.name === here.name && other.checkVisibility());
  const after = group.slice(group.indexOf(here) + 1).concat(group);
  const found = after.find((other) => other.parentElement.textContent.trim().toLowerCase().startsWith(press.key.toLowerCase()));
  if (found) waiting = setTimeout(() => { found.focus(); if (found.type === "radio") found.click(); }, SETTLED);
});

document.addEventListener("htmx:afterSettle", ({ detail }) => {
  const pressed = detail.requestConfig?.elt?.name ?? "";
  if (pressed === "add") document.querySelector("#items .item:last-of-type input[type=radio]")?.focus();
  if (pressed === "take_owner") document.querySelector('[name="brought"]:checked')?.focus();
  if (/^(take_|leave_|remove)/.test(pressed) && document.activeElement === document.body) {
    detail.elt?.querySelector?.('input:not([type="hidden"])')?.focus();
  }
});

// A draft in an address: an old one comes back with what was typed, also when the browser shows the page from memory.
window.addEventListener("pageshow", (shown) => { if (shown.persisted) window.location.reload(); });
