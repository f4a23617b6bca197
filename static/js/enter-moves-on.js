// In a form marked data-enter-moves-on, Enter goes to the next field and Ctrl+Enter sends, so that a clerk who looks
// at the thing and not at the screen cannot send half a form. Enter on a button still presses it.
const STOPS = 'input:not([type="hidden"], [type="file"]), select, textarea, button';
const FIELDS = 'input:not([type="hidden"], [type="file"], [type="submit"], [type="button"]), select';

function reachable(field) {
  if (field.disabled || field.tabIndex < 0 || !field.checkVisibility()) return false; // also not what lies folded away
  // Suggestions are entered with the arrows, buttons that only change the page with Tab: never by moving on.
  if (field.formNoValidate) return false;
  return field.type !== "radio" || field.checked || !field.form.querySelector(`[name="${CSS.escape(field.name)}"]:checked`);
}

function next(form, here) {
  const stops = [...form.querySelectorAll(STOPS)];
  const isPick = (field) => field.type === "radio" || field.type === "checkbox";
  const sameGroup = (field) => isPick(here) && isPick(field) && field.name === here.name;
  return stops.slice(stops.indexOf(here) + 1).find((field) => reachable(field) && !sameGroup(field));
}

document.addEventListener("keydown", (press) => {
  if (press.key !== "Enter" || press.isComposing || press.defaultPrevented) return;
  const form = press.target.closest?.("form[data-enter-moves-on]");
  if (!form) return;
  if (press.ctrlKey || press.metaKey) {
    press.preventDefault();
    form.requestSubmit(form.querySelector("[data-main]") ?? undefined);
  } else if (press.target.matches(FIELDS)) {
    press.preventDefault();
    next(form, press.target)?.focus();
  }
});
