// Checks a custody statement inside the browser and asks nobody: the same steps, verdicts and sentences as the program
// check_statement.py, in the same order. No dependency: SHA-256 and Ed25519 are the browser's own (WebCrypto).
const FORM = "custody statement v1";
const CONTEXT = "ledger head v1";
const HEADER = /(?:^|\n)ledger-head:[ \t]*([^\r\n]*(?:\r?\n[ \t][^\r\n]*)*)/gi; // of a mail, folded or not (RFC 5322 s.2.2.3)
const GIVEN_OUT = new Set(["head", "key", "growth"]); // what the lab's page says
const LARGEST = 256 * 2 ** 20; // bytes; a file that unpacks to more is no statement
const DEEPEST = 500; // records within records
export const HOLDS = "holds";
export const FAILS = "DOES NOT HOLD";
export const UNKNOWN = "not known";

export class Unreadable extends Error {} // there is nothing here that could be checked; the message says why
class Odd extends Error {} // a value that is not of the form it must have

// --- reading ---------------------------------------------------------------------------------------------------------

// The statement in the bytes of a PDF or a JSON file, or a head alone, which has no events. Throws Unreadable.
export async function read(data) {
  const whole = latin(data);
  if (!whole.startsWith("%PDF-")) return headInMail(whole) ?? headOrStatement(load(utf8(data)));
  const found = [];
  for (const packed of streams(data, whole)) {
    const content = (await unpacked(packed)) ?? packed;
    const written = latin(content);
    if (written.includes(FORM) && /^[ \t\n\r\v\f]*\{/.test(written)) found.push(content);
  }
  if (!found.length) throw new Unreadable("This PDF holds no custody statement as an attachment.");
  if (found.length > 1) {
    throw new Unreadable("This PDF holds more than one custody statement: it was put together from several files.");
  }
  return statementIn(load(utf8(found[0])));
}

// One character a byte, so that places in the text are places in the bytes.
function latin(data) {
  return new TextDecoder("latin1").decode(data);
}

// The bytes of every stream (ISO 32000-2, 7.3.8).
function* streams(data, whole) {
  for (const start of whole.matchAll(/(?<!end)stream\r?\n/g)) {
    const from = start.index + start[0].length;
    const end = whole.indexOf("endstream", from);
    yield data.subarray(from, end < 0 ? data.length : end);
  }
}

// What one whole zlib stream holds, a line end behind it allowed; null when it is anything else.
async function unpacked(packed) {
  const written = latin(packed.subarray(-2));
  const behind = [0, ...(/[\r\n]$/.test(written) ? [1] : []), ...(written === "\r\n" ? [2] : [])];
  for (const count of behind) {
    const content = await inflated(packed.subarray(0, packed.length - count));
    if (content?.length) return content;
  }
  return null;
}

async function inflated(packed) {
  const engine = new DecompressionStream("deflate");
  const pen = engine.writable.getWriter();
  pen.write(packed).catch(() => {}); // what is wrong is said by the reading side too
  pen.close().catch(() => {});
  const reader = engine.readable.getReader();
  const pieces = [];
  let count = 0;
  try {
    for (let next = await reader.read(); !next.done; next = await reader.read()) {
      pieces.push(next.value);
      count += next.value.length;
      if (count > LARGEST) { await reader.cancel(); return null; }
    }
  } catch { return null; }
  return new Uint8Array(await new Blob(pieces).arrayBuffer());
}

// The head in the headers of a mail; null when this is no mail that has one.
function headInMail(whole) {
  const found = [...whole.split(/\r?\n\r?\n/, 1)[0].matchAll(HEADER)].map(([, folded]) => folded);
  if (found.length > 1) throw new Unreadable("This mail carries more than one head.");
  if (!found.length) return null;
  const written = found[0].replace(/\r?\n/g, "");
  return headOrStatement(load(utf8(Uint8Array.from(written, (letter) => letter.charCodeAt(0)))));
}

function headOrStatement(said) {
  const isGivenOut = isRecord(said) && isRecord(own(said, "head")) && Object.keys(said).every((name) => GIVEN_OUT.has(name));
  if (isGivenOut) return { head: said.head };
  if (isRecord(said) && Object.hasOwn(said, "root") && Object.hasOwn(said, "signature")) return { head: said };
  return statementIn(said);
}

function statementIn(said) {
  if (!isRecord(said) || said.form !== FORM) {
    throw new Unreadable(`This is no custody statement of a form that is known here (${FORM}).`);
  }
  if (!Array.isArray(own(said, "events")) || !isRecord(own(said, "head"))) {
    throw new Unreadable("This statement has no events or no head.");
  }
  return said;
}

function utf8(data) {
  try {
    return new TextDecoder("utf-8", { fatal: true, ignoreBOM: true }).decode(data);
  } catch { throw unreadable(); }
}

// A newer head as the lab gives it out. Throws Unreadable.
export function readHead(data) {
  const said = load(utf8(data));
  if (!isRecord(said)) throw new Unreadable("The newer head is no record.");
  return said;
}

// JSON of one meaning: no name twice in a record, whole numbers only. Throws Unreadable.
function load(text) {
  try {
    const value = JSON.parse(text);
    return isOfOneMeaning(text) ? value : raise(unreadable());
  } catch { throw unreadable(); }
}

function unreadable() {
  return new Unreadable("This cannot be read as JSON in which each name stands once.");
}

function raise(error) {
  throw error;
}

// Walks the words of a text that JSON.parse has taken: it keeps the last of two like names and rounds numbers.
function isOfOneMeaning(text) {
  const open = []; // for each record that is open its names, for each list null
  let before = "";
  for (const [word] of text.matchAll(/"(?:[^"\\]|\\.)*"|[{}[\],:]|[^\s{}[\],:"]+/gs)) {
    if (word === "{" || word === "[") open.push(word === "{" ? new Set() : null);
    else if (word === "}" || word === "]") open.pop();
    else if (word === ":") {
      const names = open.at(-1);
      const name = JSON.parse(before);
      if (names.has(name)) return false;
      names.add(name);
    } else if (/^-?[0-9]/.test(word) && !/^-?[0-9]+$/.test(word)) return false;
    if (open.length > DEEPEST) return false;
    before = word;
  }
  return true;
}

// --- values of the form they must have; each throws Odd ---------------------------------------------------------------

const isRecord = (value) => typeof value === "object" && value !== null && !Array.isArray(value);
const own = (record, name) => (Object.hasOwn(record, name) ? record[name] : undefined);

function need(record, name) {
  if (!isRecord(record) || !Object.hasOwn(record, name)) throw new Odd(`no ${name}`);
  return record[name];
}

function wholeNumber(value) {
  if (!Number.isSafeInteger(value)) throw new Odd("no whole number");
  return value;
}

function text(value) {
  if (typeof value !== "string" || !value.isWellFormed()) throw new Odd("no text");
  return value;
}

function list(value) {
  if (!Array.isArray(value)) throw new Odd("no list");
  return value;
}

// So many bytes from lower-case hex digits; 0 is any number of them.
function unhex(value, count) {
  const digits = text(value);
  if (!/^(?:[0-9a-f]{2})*$/.test(digits) || (count && digits.length !== 2 * count)) throw new Odd("no such hex digits");
  return Uint8Array.from({ length: digits.length / 2 }, (_, n) => parseInt(digits.slice(2 * n, 2 * n + 2), 16));
}

const hex = (bytes) => Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
const start = (words, count) => [...words].slice(0, count).join("");
const bytesOf = (words) => new TextEncoder().encode(words);

// --- hashes and proofs -----------------------------------------------------------------------------------------------

async function sha256(...parts) {
  const data = new Uint8Array(parts.reduce((count, part) => count + part.length, 0));
  let at = 0;
  for (const part of parts) { data.set(part, at); at += part.length; }
  return new Uint8Array(await crypto.subtle.digest("SHA-256", data));
}

const leafHash = (body) => sha256([0], body); // RFC 9162 s.2.1.1
const nodeHash = (left, right) => sha256([1], left, right);
const same = (one, other) => hex(one) === hex(other);
const half = (number) => Math.floor(number / 2);
const odd = (number) => number % 2 === 1;
const allHashes = (steps) => steps.every((step) => step.length === 32);

// Whether this is leaf number ``index`` (from 0) of ``size``, RFC 9162 s.2.1.3.2.
async function isIncluded(leaf, index, size, proof, root) {
  if (index < 0 || index >= size || !allHashes(proof)) return false;
  let [node, last, found] = [index, size - 1, leaf];
  for (const step of proof) {
    if (last === 0) return false;
    if (odd(node) || node === last) {
      found = await nodeHash(step, found);
      while (!odd(node) && node) [node, last] = [half(node), half(last)];
    } else found = await nodeHash(found, step);
    [node, last] = [half(node), half(last)];
  }
  return last === 0 && same(found, root);
}

// Whether the tree of ``now`` leaves only added to that of ``old``, RFC 9162 s.2.1.4.2.
async function hasGrown(old, now, oldRoot, newRoot, proof) {
  if (old <= 0 || old > now || !allHashes(proof)) return false;
  if (old === now) return !proof.length && same(oldRoot, newRoot);
  if (!proof.length) return false;
  const steps = Number.isInteger(Math.log2(old)) ? [oldRoot, ...proof] : proof;
  let [node, last] = [old - 1, now - 1];
  while (odd(node)) [node, last] = [half(node), half(last)];
  let [older, newer] = [steps[0], steps[0]];
  for (const step of steps.slice(1)) {
    if (last === 0) return false;
    if (odd(node) || node === last) {
      [older, newer] = [await nodeHash(step, older), await nodeHash(step, newer)];
      while (!odd(node) && node) [node, last] = [half(node), half(last)];
    } else newer = await nodeHash(newer, step);
    [node, last] = [half(node), half(last)];
  }
  return last === 0 && same(older, oldRoot) && same(newer, newRoot);
}

// What an event holds in place of a text: SHA-256 of salt, field, 00h and the text in Unicode form NFC.
async function commitment(salt, name, words) {
  return hex(await sha256(salt, bytesOf(text(name)), [0], bytesOf(words.normalize("NFC"))));
}

// --- the checks: each looks at one thing and gives its lines ----------------------------------------------------------

export const nameOf = (statement) => (Object.hasOwn(statement, "events") ? "statement" : "head");

// Every verdict with its sentence, in order. Never throws for a bad statement.
export async function check(statement, key = "", newer = null) {
  const named = own(statement, "case");
  const seen = { statement, head: statement.head, key, newer, proved: [], hashes: new Map(), size: 0 };
  seen.case = typeof named === "string" ? named : "";
  seen.name = nameOf(statement);
  const said = [];
  for (const [name, one] of Object.entries(CHECKS)) {
    if (!OF_EVENTS.includes(name) || Object.hasOwn(statement, "events")) said.push(...await one(seen));
    if (name === "head" && !seen.size) break; // nothing can be proved
  }
  return said;
}

// The lines of ``look``, or ``odd`` when a value has not the form it must have.
async function orOdd(look, otherwise) {
  try {
    return await look();
  } catch (error) {
    if (error instanceof Odd || error instanceof Unreadable) return otherwise;
    throw error;
  }
}

async function signed(head, name) {
  const wrong = [[FAILS, `The signature under ${name} is not of the key it names.`]];
  const engine = await importKey("d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"); // RFC 8032 s.7.1
  if (!engine) return [[UNKNOWN, `Whether the lab signed ${name}: this browser cannot check such signatures.`]];
  return orOdd(async () => {
    const [size, root, when] = [wholeNumber(need(head, "size")), text(need(head, "root")), text(need(head, "signed"))];
    const message = bytesOf(JSON.stringify({ context: CONTEXT, root, signed: when, size }));
    const key = await importKey(hex(unhex(need(head, "key"), 32)));
    const good = key && await crypto.subtle.verify("Ed25519", key, unhex(need(head, "signature"), 64), message);
    return good ? [[HOLDS, `The signature under ${name}: ${size} events, signed ${when}.`]] : wrong;
  }, wrong);
}

async function importKey(digits) {
  try {
    return await crypto.subtle.importKey("raw", unhex(digits, 32), "Ed25519", false, ["verify"]);
  } catch { return null; }
}

function ofKey(seen) {
  const found = own(seen.head, "key");
  const named = typeof found === "string" ? found : "none";
  if (!seen.key) return [[UNKNOWN, `Whether this is the lab's key; compare it with the lab's page: ${named}`]];
  if (named === seen.key.trim().toLowerCase()) return [[HOLDS, "The key is the one you named."]];
  return [[FAILS, `The key is not the one you named; this ${seen.name} names ${named}.`]];
}

function ofHead(seen) {
  return orOdd(() => {
    const size = wholeNumber(need(seen.head, "size"));
    seen.root = unhex(need(seen.head, "root"), 32);
    if (size <= 0) throw new Odd("no size");
    seen.size = size;
    return [];
  }, [[FAILS, "The head names no size and root, so no event can be proved."]]);
}

async function entries(seen) {
  const said = [];
  const events = seen.statement.events;
  for (const [place, event] of events.entries()) {
    const odd = [[FAILS, `The entry in place ${place + 1} is no event that can be read.`]];
    said.push(...await orOdd(() => entry(event, seen), odd));
  }
  const count = seen.proved.length;
  if (count) {
    const word = count === events.length ? "Every event" : "The other events";
    said.push([HOLDS, `${word}: ${count} in the signed ledger, with the names and texts it committed to.`]);
  } else if (!events.length) said.push([FAILS, "The statement holds no event."]);
  return said;
}

async function entry(event, seen) {
  const written = text(need(event, "body"));
  const body = load(written);
  const number = wholeNumber(need(body, "sequence"));
  const proof = list(need(event, "proof")).map((step) => unhex(step, 0));
  const leaf = await leafHash(bytesOf(written));
  const wrong = await wrongWith(event, body, seen.case);
  if (!await isIncluded(leaf, number - 1, seen.size, proof, seen.root)) {
    wrong.unshift("it is not in the ledger whose head was signed: it was changed, or its proof is of another");
  }
  if (!wrong.length) seen.proved.push(body);
  seen.hashes.set(number, hex(leaf));
  const erased = Object.keys(body.commitments).sort().filter((name) => !Object.hasOwn(event.texts, name));
  return [
    ...wrong.map((one) => [FAILS, `Event ${number}: ${one}.`]),
    ...erased.map((name) => [UNKNOWN, `Event ${number}: the text “${name}” was erased.`]),
  ];
}

async function wrongWith(event, body, code) {
  const wrong = [];
  const numbered = wholeNumber(need(event, "sequence"));
  if (numbered !== body.sequence) wrong.push(`its entry is numbered ${numbered}`);
  const thing = need(body, "thing") === null ? null : text(body.thing);
  if (need(body, "case") !== code && !isOf(code, thing)) wrong.push("it is of another case");
  const committed = need(body, "commitments");
  const texts = need(event, "texts");
  if (!isRecord(committed) || !isRecord(texts)) throw new Odd("no records");
  for (const name of Object.keys(texts).sort()) {
    const words = text(need(texts[name], "text"));
    const found = await commitment(unhex(need(texts[name], "salt"), 0), name, words);
    if (found !== own(committed, name)) {
      wrong.push(`the text “${name}” (${start(words, 60)}) is not the one that was recorded`);
    }
  }
  return wrong;
}

// Whether a thing's code is of the case: the same but for the check character, then a letter.
function isOf(code, thing) {
  const stem = [...code].slice(0, -1).join("");
  return Boolean(stem && thing?.startsWith(stem) && (thing === code || /^\p{L}/u.test(thing.slice(stem.length))));
}

function order(seen) {
  const numbers = seen.statement.events.filter(isRecord).map((event) => own(event, "sequence"));
  const inOrder = numbers.every((one, n) => Number.isInteger(one) && (!n || numbers[n - 1] < one));
  if (!inOrder) return [[FAILS, "The events do not stand once each and in the order of the ledger."]];
  return seen.proved
    .filter((body) => seen.hashes.has(body.sequence - 1) && own(body, "previous") !== seen.hashes.get(body.sequence - 1))
    .map((body) => [FAILS, `Event ${body.sequence} does not name the hash of the one before it.`]);
}

function lines(seen) {
  const said = [];
  const last = new Map();
  for (const body of seen.proved.toSorted((one, other) => one.sequence - other.sequence)) {
    if (!isOf(seen.case, body.thing)) continue; // stock serves other cases too, and its line has events of theirs
    const before = last.get(body.thing);
    if (before && plain(own(before, "to")) !== plain(own(body, "from"))) {
      const between = `events ${before.sequence} and ${body.sequence}`;
      said.push([FAILS, `The line of ${body.thing}: a change of hands between ${between} is not in this statement.`]);
    }
    last.set(body.thing, body);
  }
  if (last.size && !said.length) {
    said.push([HOLDS, `The line of custody of ${last.size} things: each step begins where the last one ended.`]);
  }
  return said;
}

// A value as text in which the order of names does not count; what is not there is as good as null.
function plain(value) {
  const sorted = (_, inner) => (isRecord(inner) ? Object.fromEntries(Object.entries(inner).sort()) : inner);
  return JSON.stringify(value ?? null, sorted);
}

async function growth(seen) {
  if (!seen.newer && seen.name === "head") {
    return [[UNKNOWN, "Whether the ledger has grown from this head: that takes a newer head with its proof."]];
  }
  if (!seen.newer) return [];
  const now = own(seen.newer, "head");
  if (!isRecord(now)) return [[FAILS, "The newer head cannot be read."]];
  const said = await signed(now, "the newer head");
  if (plain(own(now, "key")) !== plain(own(seen.head, "key"))) said.push([FAILS, "The newer head is of another key."]);
  said.push(...await orOdd(async () => {
    const proof = list(need(seen.newer, "growth")).map((step) => unhex(step, 0));
    const size = wholeNumber(need(now, "size"));
    const grown = await hasGrown(seen.size, size, seen.root, unhex(need(now, "root"), 32), proof);
    const how = grown
      ? `has grown from this ${seen.name}'s ${seen.size}.`
      : `has not grown from this ${seen.name}'s ${seen.size}: its past was changed.`;
    return [[grown ? HOLDS : FAILS, `The ledger of ${size} events ${how}`]];
  }, [[FAILS, "The newer head comes with no proof that can be read."]]));
  return said;
}

// The program's list of checks has these names in this order.
export const CHECKS = { signature: (seen) => signed(seen.head, "the head"), key: ofKey, head: ofHead, entries, order, lines, growth };
const OF_EVENTS = ["entries", "order", "lines"];

// --- in words --------------------------------------------------------------------------------------------------------

// The events as they stand in the statement, to be compared with what is printed on the paper.
export function told(statement) {
  return statement.events.map((event) => {
    try {
      const body = load(text(need(event, "body")));
      const names = Object.keys(need(event, "texts")).sort();
      const words = names.map((name) => `${name}: ${event.texts[name].text}`).join("; ");
      return { number: String(body.sequence), when: `${body.happened.slice(0, 19)}Z`, what: `${body.kind}`, thing: body.thing ?? "", words };
    } catch { return { number: "", when: "", what: "(an entry that cannot be read)", thing: "", words: "" }; }
  });
}
