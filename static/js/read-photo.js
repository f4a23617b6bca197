// Reads a code from a photo, in the page: the reader is fetched only when a photo is there, and asks nobody.
const LARGEST = [1600, 1000, 2600]; // longest side in pixels, in the order they are tried
const SYMBOL = /^LC[0-9A-Z]{6,24}$/i;
const HARDER = new Map([[3, true]]); // the reader's hint "try harder"

let reader = null;

function fetchReader(address) {
  reader ??= new Promise((whole, broken) => {
    const script = document.createElement("script");
    script.src = address;
    script.onload = () => whole(new window.ZXingBrowser.BrowserMultiFormatReader(HARDER));
    script.onerror = () => { reader = null; broken(new Error("The code reader could not be loaded.")); };
    document.head.append(script);
  });
  return reader;
}

function drawn(picture, longest) {
  const share = Math.min(1, longest / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(picture.width * share);
  canvas.height = Math.round(picture.height * share);
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  return canvas;
}

export async function readCode(file, address) {
  const [read, picture] = await Promise.all([fetchReader(address), createImageBitmap(file)]);
  for (const longest of LARGEST) {
    try {
      const text = read.decodeFromCanvas(drawn(picture, longest)).getText().trim();
      if (SYMBOL.test(text)) return text.toUpperCase();
    } catch { /* nothing found at this size: try the next */ }
  }
  return null;
}

function say(sentence) {
  document.dispatchEvent(new CustomEvent("lab:say", { detail: { sentence, level: "warning" } }));
}

document.addEventListener("change", async (event) => {
  const input = event.target.closest?.("input[data-read-code]");
  if (!input?.files.length) return;
  try {
    const code = await readCode(input.files[0], input.dataset.readCode);
    if (code) document.dispatchEvent(new CustomEvent("lab:read", { detail: { code } }));
    else say("No code of ours was found in this photo. Go closer, hold still, or type the code.");
  } catch (broken) {
    say(`${broken.message || "The photo could not be read."} Type the code instead.`);
  } finally {
    input.value = "";
  }
});
