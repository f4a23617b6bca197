// The page that checks a statement: takes the files from their fields or dropped, and writes down what was found.
import { FAILS, HOLDS, check, nameOf, read, readHead, told } from "./verify.js";

const page = document.querySelector("[data-check-statement]");
const [statement, newer, key] = ["statement", "newer", "key"].map((name) => page.querySelector(`[name="${name}"]`));
const out = page.querySelector("[data-found]");
const SIGNS = { [HOLDS]: ["same", "✓", "holds"], [FAILS]: ["differs", "✕", "does not hold"] };

const made = (tag, words = "", kind = "") => Object.assign(document.createElement(tag), { textContent: words, className: kind });
const bytes = async (field) => new Uint8Array(await field.files[0].arrayBuffer());

function verdictLine([verdict, sentence]) {
  const [kind, sign, words] = SIGNS[verdict] ?? ["unknown", "?", "not known"];
  const line = made("li");
  const mark = made("span", "", `mark ${kind}`);
  const drawn = made("span", sign);
  drawn.ariaHidden = "true";
  mark.append(drawn, " ", made("span", `${words}:`, "word"));
  line.append(mark, ` ${sentence}`);
  return line;
}

function table(rows) {
  const list = made("table", "", "list stack");
  list.append(made("caption", "What was recorded, to be compared with the paper"));
  const head = list.createTHead().insertRow();
  const names = ["Event", "Happened", "What", "Thing", "Names and texts"];
  for (const name of names) head.append(Object.assign(made("th", name), { scope: "col" }));
  const body = list.createTBody();
  for (const row of rows) {
    const line = body.insertRow();
    Object.entries(row).forEach(([name, words], at) => {
      const cell = at ? made("td", words, name === "words" ? "wrap" : "code") : Object.assign(made("th", words, "code"), { scope: "row" });
      cell.dataset.label = names[at]; // on a phone the rows become slips (stack.js)
      line.append(cell);
    });
  }
  return list;
}

function recorded(said) {
  const around = made("div", "", "wide");
  Object.assign(around, { tabIndex: 0, role: "region", ariaLabel: "What was recorded" });
  around.append(table(told(said)));
  return around;
}

function put(...parts) {
  out.replaceChildren(...parts);
}

async function look() {
  if (!statement.files.length) { put(); return; }
  put(made("p", "Checking …", "soft"));
  try {
    const said = await read(await bytes(statement));
    const grown = newer.files.length ? readHead(await bytes(newer)) : null;
    const found = await check(said, key.value, grown);
    const good = !found.some(([verdict]) => verdict === FAILS);
    const title = made("h3", good ? "Everything that was checked holds." : `This ${nameOf(said)} does not hold.`, good ? "" : "said wrong");
    title.tabIndex = -1;
    const verdicts = made("ul", "", "verdicts");
    verdicts.append(...found.map(verdictLine));
    const what = nameOf(said) === "head" ? `Head of a ledger of ${said.head.size ?? "unknown"} events.` : `Custody statement of case ${said.printed ?? said.case ?? "not named"}.`;
    put(title, made("p", what), verdicts, newest(said), ...(nameOf(said) === "head" ? [] : [recorded(said)]));
    title.focus({ preventScroll: true });
  } catch (broken) {
    put(made("p", broken.message, "said wrong"));
  }
}

// Where the lab gives out a head with the proof that it has grown from this one; only the count of events is named.
function newest(said) {
  const line = made("p", "", "small soft");
  if (!Number.isSafeInteger(said.head.size)) return line;
  const link = made("a", "newest head of this lab");
  link.href = `${page.dataset.heads}?format=json&since=${said.head.size}`;
  link.download = "newer-head.json";
  line.append("To see that nothing was taken out since, save the ", link, " and choose it above.");
  return line;
}

function take(files) {
  const kept = new DataTransfer();
  kept.items.add(files[0]);
  statement.files = kept.files;
  look();
}

if (crypto.subtle) {
  for (const field of [statement, newer, key]) field.addEventListener("change", look);
  page.addEventListener("dragover", (event) => event.preventDefault());
  page.addEventListener("drop", (event) => {
    event.preventDefault();
    if (event.dataTransfer.files.length) take(event.dataTransfer.files);
  });
} else {
  put(made("p", "This browser checks nothing on a page that is not opened by https. Use the program below.", "said wrong"));
}
