// In the hand-over page a scanned label ticks its row: a patient or accessory goes out, a medium goes with it.
// What may not go yet, and what is none of this case's, is said and not ticked.
const form = document.querySelector("[data-hand-over]");
const said = document.querySelector("[data-count-said]");

const rows = () => [...form.querySelectorAll("[data-counted]")];
const counted = (row) => row.querySelector("input:checked") !== null;
const name = (row) => row.querySelector("legend, label")?.textContent.replace(/\s+/g, " ").replace(/ needed$/, "").trim() ?? "";

function say(sentence, level) {
  document.dispatchEvent(new CustomEvent("lab:say", { detail: { sentence, level } }));
}

function stillLeft() {
  const left = rows().filter((row) => row.querySelector('input[type="radio"]') && !counted(row)).length;
  return left ? `${left} still to be counted.` : "Everything is counted.";
}

function tell() {
  if (said) said.textContent = stillLeft();
}

function tick(row) {
  const pick = row.querySelector('input[value="out"], input[type="checkbox"]');
  if (!pick) { say(`${name(row)}: its work is not at an end, so it stays here for now.`, "warning"); return; }
  const before = pick.checked;
  pick.checked = true;
  pick.dispatchEvent(new Event("change", { bubbles: true }));
  row.classList.add("fresh");
  row.scrollIntoView({ block: "nearest" });
  (row.querySelector('input[name^="count-"]') ?? pick).focus({ preventScroll: true });
  if (said) said.textContent = `${name(row)}: ${before ? "was counted already." : "goes out."} ${stillLeft()}`;
}

if (form) {
  document.addEventListener("lab:scan", (scan) => {
    scan.preventDefault();
    const code = scan.detail.code.replace(/^LC/, "");
    const row = form.querySelector(`[data-counted="${CSS.escape(code)}"]`);
    if (row) tick(row); else say(`${scan.detail.code} is not among what is due back here. Nothing was ticked.`, "error");
  });
  form.addEventListener("change", tell);
  tell();
}
