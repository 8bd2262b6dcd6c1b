// The queue of this browser, in IndexedDB. What is here is safe; what is not, was not recorded.
//
// record(kind, value, {caller, corrects}) resolves after its transaction is complete, and only then
// may a screen say that something is saved. Events are numbered and chained one at a time, also
// where two tabs are open, under a lock of the browser.

import { BOOT, happened, reading } from "./clock.js";
import { sha256, spelt } from "./spelling.js";

const NAME = "charline-yard";
const OLD_MS = 24 * 3600 * 1000; // a kit of yesterday names people who may not be here today
export const UNSENT = "unsent";
export const STORED = "stored";
export const ASIDE = "aside";
// After storage was cleared the numbers go on so much further, and the hole shows at the server.
const LEAP = 1000;

let opening = null;

function open() {
  opening ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, 1);
    request.onupgradeneeded = () => {
      const events = request.result.createObjectStore("events", { keyPath: ["device", "seq"] });
      events.createIndex("state", "state");
      events.createIndex("id", "id", { unique: true });
      request.result.createObjectStore("kept", { keyPath: "name" });
    };
    request.onsuccess = () => {
      request.result.onversionchange = () => shut(request.result);
      request.result.onclose = () => shut(request.result);
      resolve(request.result);
    };
    request.onerror = () => reject(request.error);
  }).catch((error) => {
    opening = null;
    throw error;
  });
  return opening;
}

// Storage that was cleared takes what was read of it along.
function shut(database) {
  database.close();
  opening = null;
  forgetRead();
}

// One transaction: `work` asks, and gives what is to be answered; resolved once it is complete.
async function within(stores, mode, work) {
  const database = await open();
  return new Promise((resolve, reject) => {
    const transaction = database.transaction(stores, mode, { durability: "strict" });
    let answer;
    transaction.oncomplete = () => resolve(typeof answer === "function" ? answer() : answer);
    transaction.onabort = () => reject(transaction.error ?? new Error("aborted"));
    try {
      answer = work(transaction);
    } catch (error) {
      transaction.abort();
      reject(error);
    }
  });
}

const asked = (request) => () => request.result;

// Read once and remembered until it is written, here or in another tab: a tap must not wait until
// ten thousand events are read anew.
class Remembered {
  constructor(read) {
    Object.assign(this, { read, writes: 0, known: undefined });
  }

  async get() {
    if (this.known !== undefined) return this.known;
    const before = this.writes;
    const fresh = await this.read();
    if (before === this.writes) this.known = fresh; // else it may lack what was written meanwhile
    return fresh;
  }

  // `change` does to what is known what was written; without it everything is read anew.
  written(change = null) {
    this.writes += 1;
    if (!change) this.known = undefined;
    else if (this.known !== undefined) change(this.known);
  }
}

const rememberedKit = new Remembered(() => kept("kit"));
const rememberedEvents = new Remembered(readEvents);
const otherTabs = new BroadcastChannel(NAME);
otherTabs.onmessage = forgetRead;

function forgetRead() {
  rememberedKit.written();
  rememberedEvents.written();
}

function rewritten() {
  forgetRead();
  otherTabs.postMessage("");
}

export async function kept(name) {
  const row = await within(["kept"], "readonly", (t) => asked(t.objectStore("kept").get(name)));
  return row?.value ?? null;
}

export async function keep(name, value) {
  await within(["kept"], "readwrite", (t) => void t.objectStore("kept").put({ name, value }));
  if (name === "kit") rewritten();
}

// What is recorded now, by whom, on which device: told by the page before the first event.
const now = { burn: "", person: "", device: "", anchor: null };

export function use(changes) {
  Object.assign(now, changes);
}

export function using() {
  return { ...now };
}

export async function record(kind, value, { caller = "", corrects = "" } = {}) {
  if (!now.burn || !now.person || !now.device) throw new Error("no burn, person or device");
  const taken = { ...now, ...reading() }; // the moment of the tap, before anything is waited for
  return navigator.locks.request("charline-yard-record", () => write(kind, value, caller, corrects, taken));
}

// The chains that this page went on with, for a storage that is cleared under it.
const chains = new Map();

async function write(kind, value, caller, corrects, taken) {
  const head = (await kept(`head:${taken.device}`)) ?? chains.get(taken.device) ?? { seq: 0, sha256: "" };
  const event = {
    id: crypto.randomUUID(), device: taken.device, device_seq: head.seq + 1, burn: taken.burn, kind,
    value, caller, wall: taken.wall, mono: taken.mono, boot: BOOT, anchor: taken.anchor,
    prev: head.sha256, person: taken.person, corrects,
  };
  const text = spelt(event);
  const hash = await sha256(text);
  const row = { device: event.device, seq: event.device_seq, id: event.id, burn: event.burn, text, sha256: hash, state: UNSENT };
  await within(["events", "kept"], "readwrite", (t) => {
    t.objectStore("events").add(row);
    t.objectStore("kept").put({ name: `head:${event.device}`, value: { seq: event.device_seq, sha256: hash } });
  });
  chains.set(event.device, { seq: event.device_seq, sha256: hash });
  rememberedEvents.written((known) => learn(known, event, UNSENT, hash));
  otherTabs.postMessage("");
  return event;
}

// Where the device goes on counting. `last` is what the server knows of it: more than we do means
// that our storage was cleared.
export async function goOn(device, last) {
  const head = await kept(`head:${device}`);
  if (head && head.seq >= last.seq) return;
  if (!head && last.seq === 0) return;
  await keep(`head:${device}`, { seq: last.seq + LEAP, sha256: last.sha256 });
}

async function rowsOf(state) {
  return within(["events"], "readonly", (t) => asked(t.objectStore("events").index("state").getAll(state)));
}

export const unsent = () => rowsOf(UNSENT);
export const aside = () => rowsOf(ASIDE);

export async function countUnsent() {
  return within(["events"], "readonly", (t) => asked(t.objectStore("events").index("state").count(UNSENT)));
}

// The next batch of one device, in order; devices one after the other.
export async function nextBatch(most) {
  const rows = await within(["events"], "readonly", (t) =>
    asked(t.objectStore("events").index("state").getAll(UNSENT, 4 * most)),
  );
  const device = rows[0]?.device;
  return rows.filter((row) => row.device === device).slice(0, most);
}

// What became of events, by the server's answer; each is kept until the next contact.
export async function answered(results) {
  await within(["events"], "readwrite", (t) => {
    const store = t.objectStore("events");
    for (const each of results) {
      const request = store.index("id").get(each.id);
      request.onsuccess = () => {
        const row = request.result;
        if (!row || row.sha256 !== each.sha256) return;
        store.put({ ...row, state: stateAfter(each), reason: each.reason });
      };
    }
  });
  rememberedEvents.written((known) => {
    for (const each of results) {
      const event = known.get(each.id);
      if (event?.sha256 === each.sha256) event.state = stateAfter(each);
    }
  });
  otherTabs.postMessage("");
}

const stateAfter = ({ outcome }) => (outcome === "stored" || outcome === "duplicate" ? STORED : ASIDE);

// Events that the server has told us of again are its own to keep; so are those of ended burns.
export async function prune(kit) {
  const known = new Set();
  const burns = new Set(kit.burns.map((burn) => burn.id));
  for (const burn of kit.burns) for (const text of burn.events) known.add(JSON.parse(text).id);
  const rows = await rowsOf(STORED);
  const gone = rows.filter((row) => known.has(row.id) || !burns.has(row.burn));
  if (!gone.length) return;
  await within(["events"], "readwrite", (t) => {
    for (const row of gone) t.objectStore("events").delete([row.device, row.seq]);
  });
  rewritten();
}

// Every event of a burn that this browser knows of: the server's and its own, by time. Each has
// `at` [ms] and `state`. They are the remembered ones, for reading only.
export async function events(burn = now.burn) {
  const known = await rememberedEvents.get();
  return [...known.values()].filter((event) => event.burn === burn).sort(
    (one, other) => one.at - other.at || (one.device === other.device ? one.device_seq - other.device_seq : 0),
  );
}

async function readEvents() {
  const [kit, rows] = await Promise.all([
    rememberedKit.get(),
    within(["events"], "readonly", (t) => asked(t.objectStore("events").getAll())),
  ]);
  const found = new Map();
  for (const burn of kit?.burns ?? []) {
    for (const text of burn.events) learn(found, JSON.parse(text), STORED);
  }
  for (const row of rows) learn(found, JSON.parse(row.text), row.state, row.sha256);
  return found;
}

function learn(known, event, state, hash = "") {
  known.set(event.id, { ...event, at: happened(event), state, sha256: hash });
}

// Every event that the server has not said it holds.
export async function toRescue() {
  return [...(await rowsOf(UNSENT)), ...(await rowsOf(ASIDE))];
}

// How many events are neither sent nor in a rescue file.
export async function countAtRisk() {
  const rescued = new Set((await kept("rescued")) ?? []);
  return (await rowsOf(UNSENT)).filter((row) => !rescued.has(row.id)).length;
}

export const newestKit = () => rememberedKit.get();

export async function kit() {
  const found = await rememberedKit.get();
  const fresh = found && Date.now() - found.kept < OLD_MS;
  return fresh || (found && (await countUnsent())) ? found : null;
}

// What names people goes with the sitting, once nothing of it is needed to send.
export async function clear() {
  if (await countUnsent()) throw new Error("unsent");
  await within(["events", "kept"], "readwrite", (t) => {
    t.objectStore("events").clear();
    for (const name of ["kit", "who"]) t.objectStore("kept").delete(name);
  });
  rewritten();
}
