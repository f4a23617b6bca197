// A signature drawn with a finger, a pen or the mouse; it goes with the form as a PNG in a hidden field.
// Whoever cannot or will not draw signs on paper: the form has a box for that beside it.
async function prepare(frame) {
  frame.dataset.ready = "yes";
  const { default: SignaturePad } = await import(frame.dataset.signature);
  const canvas = frame.querySelector("canvas");
  const field = frame.querySelector('input[type="hidden"]');
  // Always dark on white: it is printed on paper, whatever scheme the screen has.
  const pad = new SignaturePad(canvas, { penColor: "#10182c", backgroundColor: "#ffffff", minWidth: 0.8, maxWidth: 2.6 });

  function fit() {
    if (!canvas.offsetWidth) return;
    const strokes = pad.toData();
    const ratio = Math.max(window.devicePixelRatio || 1, 1);
    canvas.width = canvas.offsetWidth * ratio;
    canvas.height = canvas.offsetHeight * ratio;
    canvas.getContext("2d").scale(ratio, ratio);
    pad.clear();
    pad.fromData(strokes);
  }
  function keep() {
    field.value = pad.isEmpty() ? "" : pad.toDataURL("image/png");
    field.dispatchEvent(new Event("change", { bubbles: true }));
  }
  pad.addEventListener("endStroke", keep);
  frame.querySelector("[data-clear]").addEventListener("click", () => { pad.clear(); keep(); });
  fit();
  if (field.value.startsWith("data:image/png")) {
    const again = new Image();
    again.onload = () => canvas.getContext("2d").drawImage(again, 0, 0, canvas.offsetWidth, canvas.offsetHeight);
    again.src = field.value;
  } else {
    new ResizeObserver(() => { if (canvas.width !== Math.floor(canvas.offsetWidth * (window.devicePixelRatio || 1))) fit(); }).observe(canvas);
  }
  frame.hidden = false;
}

const prepareAll = () => document.querySelectorAll("[data-signature]:not([data-ready])").forEach(prepare);
document.addEventListener("htmx:afterSettle", prepareAll);
prepareAll();
