// Buttons that print the page as it stands; without scripts they are not shown.
const show = () => document.querySelectorAll("[data-print]").forEach((button) => { button.hidden = false; });
document.addEventListener("click", (event) => { if (event.target.closest?.("[data-print]")) window.print(); });
document.addEventListener("htmx:afterSettle", show);
show();
