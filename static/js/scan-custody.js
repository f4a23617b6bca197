// The page on which custody is scanned: each scan is put behind the ones before it and looked up at once.
// Scanning the place or badge a second time records it, so that no key is needed with gloves on.
const form = document.querySelector("[data-scan-custody]");
const field = form?.querySelector("[data-scanned]");
const understood = form?.querySelector("#understood");
const forget = form?.querySelector("[data-forget]");
let waiting = 0;

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

function put(code) {
  const target = understood.querySelector("[data-target]")?.dataset.target;
  const listed = codes();
  if (target && folded(listed.at(-1) ?? "") === folded(code) && target === folded(code)) {
    form.requestSubmit(form.querySelector("[data-main]"));
    return;
  }
  field.value = [...listed, code].join("\n");
  look();
}

if (form) {
  document.addEventListener("lab:scan", (scan) => {
    scan.preventDefault();
    put(scan.detail.code);
  });
  field.addEventListener("input", lookSoon);
  for (const name of ["place", "staff"]) form.elements[name]?.addEventListener("change", look);
  forget.addEventListener("click", () => { field.value = codes().slice(0, -1).join("\n"); look(); });
  forget.hidden = codes().length === 0;
}
