// Buttons that print the page as it stands; without scripts they are not shown.
const show = () => document.querySelectorAll("[data-print]").forEach((button) => { button.hidden = false; });
document.addEventListener("click", (event) => { if (event.target.closest?.("[data-print]")) window.print(); });
document.addEventListener("htmx:afterSettle", show);
show();

// On paper nothing can be unfolded: what is folded away as older is opened for the print.
addEventListener("beforeprint", () => document.querySelectorAll("details.older:not([open])").forEach((folded) => { folded.open = true; folded.dataset.printed = ""; }));
addEventListener("afterprint", () => document.querySelectorAll("details.older[data-printed]").forEach((folded) => { folded.open = false; delete folded.dataset.printed; }));
