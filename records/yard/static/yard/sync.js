// Sending what is queued: at most 200 events at a time, in order, over and over until the server
// says that it holds them. An answer that is lost costs nothing: what is sent again is known there.

import { BOOT, anchored, reading } from "./clock.js";
import * as store from "./store.js";

const MOST = 200;
const SPEAKS = 1;
const FIRST_WAIT_MS = 2000;
const LONGEST_WAIT_MS = 60_000;
const KEPT_HEADS = 100;

// offline, signed_out, sending, sent, waiting (not reached), other_version, refused
export const standing = { state: "waiting", hello: null, anchor: null, reason: "", shell: "" };

let wait = FIRST_WAIT_MS;
let timer = null;
let tell = () => {};

let untouched = () => 0;

// `told` is called when something changed; `since` gives for how long nobody touched the page [ms].
export function watch(told, since) {
  tell = told;
  untouched = since;
}

function stand(state, reason = "") {
  Object.assign(standing, { state, reason });
  tell();
}

class SignedOut extends Error {}
class Refused extends Error {
  constructor(status, sentence) {
    super(sentence);
    this.status = status;
  }
}

async function ask(address, sent) {
  const options = { credentials: "same-origin", cache: "no-store", redirect: "error", signal: AbortSignal.timeout(20_000) };
  options.headers = { "X-Untouched": String(Math.floor(untouched() / 1000)) };
  if (sent !== undefined) {
    options.method = "POST";
    options.headers = { ...options.headers, "Content-Type": "application/json", "X-CSRFToken": standing.hello.csrf };
    options.body = JSON.stringify(sent);
  }
  const response = await fetch(address, options);
  if (response.status === 401) throw new SignedOut();
  if (response.status >= 500) throw new Error(`status ${response.status}`);
  const answer = await response.json().catch(() => null);
  if (!response.ok) throw new Refused(response.status, answer?.error ?? `status ${response.status}`);
  if (answer === null) throw new TypeError("no answer");
  return answer;
}

// Meet the server: who is signed in, what time it is, what to take along.
async function meet(device) {
  const { anchor, answer } = await anchored(() => ask("/yard/hello/"), standing.anchor?.boot === BOOT ? 1 : 3);
  standing.hello = answer;
  // A slow answer says the time worse than what the clock has counted since a quick one.
  const drift = standing.anchor?.boot === BOOT ? (anchor.mono - standing.anchor.mono) / 20_000 : Infinity;
  const asleep = standing.anchor?.boot === BOOT && Math.abs(anchor.server - standing.anchor.server - (anchor.mono - standing.anchor.mono)) > 2000;
  if (!standing.anchor || standing.anchor.boot !== BOOT || asleep || anchor.rtt / 2 < standing.anchor.rtt / 2 + drift) {
    standing.anchor = anchor;
    await store.keep("anchor", anchor);
  }
  standing.shell = answer.shell;
  const mine = answer.tablet || device;
  const { last } = await ask("/yard/seat/", { device: mine });
  await store.goOn(mine, last);
  await store.keep("who", { person: answer.person, name: answer.name, device: mine, tablet: answer.tablet_name });
  store.use({ person: answer.person, device: mine, anchor: standing.anchor });
  return mine;
}

async function takeAlong() {
  const kit = await ask("/yard/kit/");
  await store.keep("kit", { ...kit, kept: Date.now() });
  await store.prune(kit);
}

async function sendAll(version) {
  for (;;) {
    const rows = await store.nextBatch(MOST);
    if (!rows.length) return;
    stand("sending");
    const answer = await ask("/yard/sync/", {
      v: SPEAKS, device: rows[0].device, now: reading(), shell: version, events: rows.map((row) => row.text),
    });
    await store.answered(answer.results);
    const heads = (await store.kept("heads")) ?? [];
    await store.keep("heads", [...heads, answer.head].slice(-KEPT_HEADS));
    tell();
  }
}

export function officeName() {
  return `office-${Array.from(crypto.getRandomValues(new Uint8Array(8)), (b) => b.toString(16).padStart(2, "0")).join("")}`;
}

async function round(version) {
  const device = await deviceName();
  await meet(device);
  await sendAll(version);
  await takeAlong();
}

async function deviceName() {
  let own = await store.kept("office");
  if (!own) {
    own = officeName();
    await store.keep("office", own);
  }
  return own;
}

// One try now; what goes wrong is said, and tried again later. Two tabs take turns.
export async function send(version) {
  clearTimeout(timer);
  await navigator.locks.request("charline-yard-send", { ifAvailable: true }, async (lock) => {
    if (!lock) return;
    try {
      await round(version);
      wait = FIRST_WAIT_MS;
      stand("sent");
    } catch (error) {
      stand(...meaning(error));
      wait = Math.min(wait * 2, LONGEST_WAIT_MS);
    }
  });
  const next = standing.state === "sent" ? 15_000 : wait * (0.75 + Math.random() / 2);
  timer = setTimeout(() => send(version), next);
}

// What was just recorded goes off at once, unless the server was not reached a moment ago.
export function soon(version) {
  if (standing.state === "sent" || standing.state === "sending") {
    clearTimeout(timer);
    timer = setTimeout(() => send(version), 150);
  }
}

function meaning(error) {
  if (error instanceof SignedOut) return ["signed_out"];
  if (error instanceof Refused) {
    return [error.status === 409 ? "other_version" : "refused", error.message];
  }
  return [navigator.onLine ? "waiting" : "offline"];
}
