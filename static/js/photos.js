// Photos go to the server at once, each by itself, two at a time; one that fails says why and keeps nobody waiting.
// Without this script the same form sends all of them when its button is pressed.
const AT_ONCE = 2;
const TRIES = 6;
const FIRST_PAUSE = 1000; // milliseconds; twice as long each time
const NO_BATCH = "00000000-0000-4000-8000-000000000000";
const BUSY = 503;

const waiting = [];
const frames = new WeakMap(); // what is going on in each place for photos
let running = 0;

document.documentElement.classList.add("scripted");

// crypto.randomUUID is missing where a phone speaks plain http to the lab's machine.
function newBatch() {
  const b = crypto.getRandomValues(new Uint8Array(16));
  b[6] = (b[6] & 0x0f) | 0x40;
  b[8] = (b[8] & 0x3f) | 0x80;
  return [...b].map((n, i) => ([4, 6, 8, 10].includes(i) ? "-" : "") + n.toString(16).padStart(2, "0")).join("");
}

function csrf() {
  try { return JSON.parse(document.body.getAttribute("hx-headers") ?? "{}")["X-CSRFToken"] ?? ""; } catch { return ""; }
}

function made(name, about = {}, ...inside) {
  const part = Object.assign(document.createElement(name), about);
  part.append(...inside);
  return part;
}

function stateOf(frame) {
  if (!frames.has(frame)) frames.set(frame, { batch: newBatch(), open: 0, kept: 0, refused: 0 });
  return frames.get(frame);
}

function tally(frame) {
  const { open, kept, refused } = stateOf(frame);
  const parts = [];
  if (open) parts.push(`${kept} of ${open + kept + refused} photos kept …`);
  else if (kept) parts.push(kept === 1 ? "The photo is kept." : `${kept} photos are kept.`);
  if (refused) parts.push(`${refused} not taken in, see below.`);
  frame.querySelector(".tally").textContent = parts.join(" ");
}

// --- sending ---------------------------------------------------------------------------------------------------------

function add(frame, files) {
  const state = stateOf(frame);
  if (!state.open) Object.assign(state, { batch: newBatch(), kept: 0, refused: 0 });
  for (const file of files) {
    const bar = made("progress", { max: 1, value: 0 });
    const line = made("li", {}, made("span", { className: "name", textContent: file.name || "photo" }), bar, made("span", { className: "state soft small", textContent: "waits" }));
    bar.setAttribute("aria-label", `${file.name || "photo"}: sent`);
    frame.querySelector(".sending").append(line);
    state.open += 1;
    const job = { frame, file, line, bar, tries: 0 };
    const most = Number(frame.dataset.mostBytes);
    if (file.size > most) refuse(job, `It is larger than ${Math.round(most / 1e6)} MB. Send it smaller.`, false);
    else waiting.push(job);
  }
  tally(frame);
  go();
}

function go() {
  while (running < AT_ONCE && waiting.length) {
    running += 1;
    send(waiting.shift());
  }
}

function send(job) {
  const body = new FormData();
  body.append("batch", stateOf(job.frame).batch);
  body.append("photos", job.file, job.file.name || "photo");
  const ask = new XMLHttpRequest();
  ask.open("POST", job.frame.dataset.photos);
  ask.setRequestHeader("X-CSRFToken", csrf());
  ask.setRequestHeader("HX-Request", "true");
  ask.upload.onprogress = (event) => { if (event.lengthComputable) job.bar.value = event.loaded / event.total; };
  ask.upload.onload = () => { job.line.querySelector(".state").textContent = "is taken in"; };
  job.line.querySelector(".state").textContent = "is sent";
  ask.onload = () => { running -= 1; answered(job, ask); go(); };
  ask.onerror = ask.onabort = () => { running -= 1; again(job, "The server did not answer."); go(); };
  ask.send(body);
}

function answered(job, ask) {
  const said = new DOMParser().parseFromString(ask.responseText, "text/html");
  const photo = said.querySelector("[data-photo]");
  if (ask.status === 200 && photo) return keep(job, photo);
  if (ask.status === BUSY) return again(job, "The lab's machine is busy with other photos.");
  const sentence = [...said.querySelectorAll("[data-says]")].map((part) => part.textContent.trim()).join(" ");
  if (said.querySelector('input[type="password"]')) return refuse(job, "You are logged out. Log in in another window, then try again.", true);
  refuse(job, sentence || "The server could not take it in.", ask.status >= 500 || !sentence);
}

function again(job, sentence) {
  job.tries += 1;
  if (job.tries >= TRIES) return refuse(job, sentence, true);
  job.bar.value = 0;
  job.line.querySelector(".state").textContent = "is sent again shortly";
  setTimeout(() => { waiting.push(job); go(); }, FIRST_PAUSE * 2 ** (job.tries - 1) * (0.5 + Math.random() / 2));
}

function keep(job, photo) {
  const list = job.frame.querySelector(".shots");
  const here = list.querySelector(`[data-photo="${photo.dataset.photo}"]`);
  if (!here) { photo.classList.add("fresh"); list.append(document.importNode(photo, true)); }
  job.frame.querySelector(".blank")?.remove();
  job.line.remove();
  stateOf(job.frame).kept += 1;
  ended(job);
}

function refuse(job, sentence, mayRetry) {
  job.line.classList.add("refused");
  job.line.querySelector(".state").remove();
  job.bar.remove();
  const acts = made("p", { className: "acts" });
  if (mayRetry) acts.append(made("button", { type: "button", className: "may", textContent: "Try again", onclick: () => { job.line.remove(); stateOf(job.frame).refused -= 1; add(job.frame, [job.file]); } }));
  acts.append(made("button", { type: "button", className: "may", textContent: "Leave it out", onclick: () => { job.line.remove(); stateOf(job.frame).refused -= 1; tally(job.frame); } }));
  job.line.append(made("p", { className: "said wrong" }, made("strong", { textContent: "Not taken in." }), ` ${sentence}`), acts);
  stateOf(job.frame).refused += 1;
  ended(job);
}

function ended(job) {
  const state = stateOf(job.frame);
  state.open -= 1;
  tally(job.frame);
  if (state.open || !state.kept) return;
  fetch(job.frame.dataset.done.replace(NO_BATCH, state.batch), { method: "POST", headers: { "X-CSRFToken": csrf() }, keepalive: true }).catch(() => {});
  job.frame.dispatchEvent(new CustomEvent("lab:photos", { bubbles: true, detail: { kept: state.kept } }));
}

// --- where photos come from ------------------------------------------------------------------------------------------

document.addEventListener("change", (event) => {
  const input = event.target;
  const frame = input.matches?.('input[type="file"][name="photos"]') && input.closest("[data-photos]");
  if (!frame || !input.files.length) return;
  const files = [...input.files];
  input.value = "";
  add(frame, files);
});

const dragged = (event) => event.target.closest?.("[data-photos]:has(input[type=file])");
document.addEventListener("dragover", (event) => {
  const frame = dragged(event);
  if (!event.dataTransfer?.types.includes("Files")) return;
  event.preventDefault(); // a photo dropped beside the place must not replace the page
  event.dataTransfer.dropEffect = frame ? "copy" : "none";
  frame?.classList.add("dropping");
});
document.addEventListener("dragleave", (event) => {
  const frame = dragged(event);
  if (frame && !frame.contains(event.relatedTarget)) frame.classList.remove("dropping");
});
document.addEventListener("drop", (event) => {
  if (!event.dataTransfer?.types.includes("Files")) return;
  event.preventDefault();
  const frame = dragged(event);
  frame?.classList.remove("dropping");
  if (frame && event.dataTransfer.files.length) add(frame, [...event.dataTransfer.files]);
});

window.addEventListener("beforeunload", (event) => { if (running || waiting.length) event.preventDefault(); });

// --- looking closer: a press on a picture shows it close, and its neighbour at the same spot ------------------------

function aim(board, pane, x, y) {
  board.style.setProperty("--x", `${Math.min(100, Math.max(0, x))}%`);
  board.style.setProperty("--y", `${Math.min(100, Math.max(0, y))}%`);
}

document.addEventListener("pointermove", (event) => {
  const pane = event.target.closest?.(".pane");
  const board = pane?.closest("[data-compare]");
  if (!board) return;
  const box = pane.getBoundingClientRect();
  aim(board, pane, ((event.clientX - box.left) / box.width) * 100, ((event.clientY - box.top) / box.height) * 100);
});
document.addEventListener("click", (event) => {
  const pane = event.target.closest?.("[data-compare] .pane");
  pane?.closest("[data-compare]").classList.toggle("close");
});
document.addEventListener("keydown", (event) => {
  const pane = event.target.closest?.("[data-compare] .pane");
  if (!pane) return;
  const board = pane.closest("[data-compare]");
  const step = { ArrowLeft: [-6, 0], ArrowRight: [6, 0], ArrowUp: [0, -6], ArrowDown: [0, 6] }[event.key];
  if (event.key === "Enter" || event.key === " ") board.classList.toggle("close");
  else if (step && board.classList.contains("close")) {
    const at = ["--x", "--y"].map((name) => parseFloat(board.style.getPropertyValue(name) || "50"));
    aim(board, pane, at[0] + step[0], at[1] + step[1]);
  } else return;
  event.preventDefault();
});
