// On a page whose form has a field for codes ([data-scans]), a scan is put into that field instead of being opened.
const field = document.querySelector("[data-scans]");

function put(code) {
  const several = field instanceof HTMLTextAreaElement;
  const codes = several ? field.value.split(/[\s,]+/).filter(Boolean) : [];
  if (!codes.includes(code)) codes.push(code);
  field.value = several ? codes.join("\n") : code;
  field.dispatchEvent(new Event("input", { bubbles: true }));
  field.dispatchEvent(new Event("change", { bubbles: true }));
}

if (field) {
  document.addEventListener("lab:scan", (scan) => {
    scan.preventDefault();
    put(scan.detail.code);
  });
}
