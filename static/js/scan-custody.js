// The page on which custody is scanned: each scan is put behind the ones before it and looked up at once.
// Scanning the place or badge a second time records it, so that no key is needed with gloves on.
const form = document.querySelector("[data-scan-custody]");
const field = form?.querySelector("[data-scanned]");
const understood = form?.querySelector("#understood");
const forget = form?.querySelector("[data-forget]");
let waiting = 0;
let twice = ""; // what was scanned a second time, perhaps before the first was looked up
let fresh = false; // a scan, not typing, asked for what is or will be looked up

const codes = () => field.value.split(/[\s,;]+/).filter(Boolean);
const folded = (code) => code.toUpperCase().replace(/^LC/, "").replace(/[^0-9A-Z]/g, "");

function look() {
  const chosen = ["place", "staff"].map((name) => form.elements[name]).filter((one) => one?.value);
  const asked = new URLSearchParams([["scanned", field.value], ...chosen.map((one) => [one.name, one.value])]);
  forget.hidden = codes().length === 0;
  window.htmx.ajax("GET", `${understood.dataset.look}?${asked}`, { target: understood, swap: "innerHTML" });
}

function lookSoon() {
  clearTimeout(waiting);
  waiting = setTimeout(look, 400);
}

function recordIfTwice() {
  const target = understood.querySelector("[data-target]")?.dataset.target;
  if (twice && twice === target) form.requestSubmit(form.querySelector("[data-main]"));
}

function put(code) {
  const listed = codes();
  if (folded(listed.at(-1) ?? "") === folded(code)) {
    twice = folded(code);
    recordIfTwice();
    return;
  }
  twice = "";
  fresh = true;
  field.value = [...listed, code].join("\n");
  look();
}

if (form) {
  document.addEventListener("lab:scan", (scan) => {
    scan.preventDefault();
    put(scan.detail.code);
  });
  understood.addEventListener("htmx:afterSwap", () => {
    const pin = understood.querySelector('[name="pin"]');
    if (fresh && pin) { fresh = false; pin.focus(); } // whoever takes it types it here
    recordIfTwice();
  });
  field.addEventListener("input", () => { twice = ""; fresh = false; lookSoon(); });
  for (const name of ["place", "staff"]) form.elements[name]?.addEventListener("change", look);
  forget.addEventListener("click", () => { twice = ""; field.value = codes().slice(0, -1).join("\n"); look(); });
  forget.hidden = codes().length === 0;
}
