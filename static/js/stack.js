// On a phone the rows of a list become small slips; each value then carries its column's name, if that can be seen.
const seen = (name) => (name.querySelector(":scope > .unseen") ? "" : name.textContent);

function label(table) {
  const names = [...table.querySelectorAll("thead th")].map((name) => (name.dataset.short ?? seen(name)).trim());
  for (const row of table.querySelectorAll("tbody tr")) {
    [...row.cells].forEach((cell, at) => { if (names[at] && cell.colSpan === 1) cell.dataset.label = names[at]; });
  }
}

const labelAll = () => document.querySelectorAll("table.stack").forEach(label);
document.addEventListener("htmx:afterSettle", labelAll);
labelAll();
