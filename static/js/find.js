// "/" puts the cursor in the find field, unless somebody is typing.
const TYPED = 'input:not([type="checkbox"], [type="radio"], [type="button"], [type="submit"], [type="file"]), textarea, select, [contenteditable]';

document.addEventListener("keydown", (press) => {
  if (press.key !== "/" || press.ctrlKey || press.metaKey || press.altKey || press.isComposing) return;
  if (press.target instanceof Element && press.target.closest(TYPED)) return;
  const field = document.querySelector("[data-find-field]");
  if (!field) return;
  press.preventDefault();
  field.focus();
  field.select();
});
