// After a form came back with errors: the cursor goes to the summary, and each line of it leads into its field.
function show(within) {
  const summary = within.matches?.("[data-wrongs]") ? within : within.querySelector("[data-wrongs]");
  summary?.focus();
}

document.addEventListener("click", (event) => {
  const link = event.target.closest?.('[data-wrongs] a[href^="#"]');
  const place = link && document.getElementById(decodeURIComponent(link.hash.slice(1)));
  if (!place) return;
  event.preventDefault();
  const field = place.matches("input, select, textarea") ? place : place.querySelector("input, select, textarea") ?? place;
  (field.closest(".field") ?? field).scrollIntoView({ block: "center" });
  field.focus({ preventScroll: true });
});
document.addEventListener("htmx:afterSettle", (event) => show(event.target));
show(document);
