// A hand scanner types into whatever has the focus: our prefix, letters and digits, then Enter, faster than a person.
// Such a burst is taken back out of the field and announced as a "lab:scan" event (detail.code) on the document.
// A page that acts on scans itself (stocktake, hand-over) calls preventDefault on it; otherwise the code is opened.
const LONGEST_GAP = 80; // milliseconds between keys; a scanner needs 5 to 40, nobody types an unknown code this fast
const SYMBOL = /^LC[0-9A-Z]{6,24}$/;

let burst = null; // { keys, places, last, field, value, from, to }

// A scanner sends key *places* of one layout; where the computer uses another, the places still say what was meant.
function fromPlace(code) {
  const found = /^(?:Key([A-Z])|Digit([0-9])|Numpad([0-9]))$/.exec(code);
  return found ? found[1] ?? found[2] ?? found[3] : "";
}

function start(press) {
  const field = press.target instanceof HTMLElement && "value" in press.target ? press.target : null;
  let from = null, to = null;
  try { from = field?.selectionStart ?? null; to = field?.selectionEnd ?? null; } catch { /* number and date fields have none */ }
  return { keys: "", places: "", field, value: field?.value, from, to, last: press.timeStamp };
}

function putBack({ field, value, from, to }) {
  if (!field || field.value === value) return;
  field.value = value;
  if (from !== null) field.setSelectionRange(from, to);
  field.dispatchEvent(new Event("input", { bubbles: true }));
}

function scanned({ keys, places }) {
  return [keys, places].map((text) => text.toUpperCase()).find((text) => SYMBOL.test(text)) ?? null;
}

function open(code) {
  const address = document.body.dataset.find;
  if (address) window.location.assign(`${address}?q=${encodeURIComponent(code)}`);
}

function announce(code) {
  const event = new CustomEvent("lab:scan", { detail: { code }, cancelable: true });
  if (document.dispatchEvent(event)) open(code);
}

document.addEventListener("keydown", (press) => {
  if (press.ctrlKey || press.metaKey || press.altKey || press.isComposing) { burst = null; return; }
  if (press.key === "Enter") {
    const code = burst && press.timeStamp - burst.last <= 2 * LONGEST_GAP ? scanned(burst) : null;
    if (code) {
      press.preventDefault();
      press.stopImmediatePropagation();
      putBack(burst);
      announce(code);
    }
    burst = null;
    return;
  }
  if (press.key.length !== 1) return; // Shift and the like belong to the letter that follows
  if (!burst || press.timeStamp - burst.last > LONGEST_GAP) burst = start(press);
  burst.keys += press.key;
  burst.places += fromPlace(press.code);
  burst.last = press.timeStamp;
}, true);

// A photo of a code (read-photo.js) ends here too.
document.addEventListener("lab:read", (event) => announce(event.detail.code));
