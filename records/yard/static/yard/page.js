// The yard page: who records, what is tapped, what is safe. It starts and works without a signal.

import { serverTime } from "./clock.js";
import { EntryBoard } from "./entry.js";
import { askToKeep, keepPage, keeping, writeRescueFile } from "./keeping.js";
import { drawRecent, told } from "./recent.js";
import * as store from "./store.js";
import * as sync from "./sync.js";
import { drawGroup } from "./taps.js";
import { clockTime, element, word } from "./words.js";

const IDLE_MS = 5 * 60_000;
const MEET_MS = 3000;
const SAID_MS = 12_000;
const AUTO_RESCUE = 50; // events: where storage is not promised, a file is written at each so many
const VERSION = document.body.dataset.version;
const at = (id) => document.getElementById(id);

const page = { kit: null, burn: null, meant: false, who: null, caller: "", group: "fire", touched: performance.now() };

// Starting

async function start() {
  sync.watch(refresh, () => performance.now() - page.touched);
  page.who = await store.kept("who");
  sync.standing.anchor = await store.kept("anchor");
  if (page.who) store.use({ person: page.who.person, device: page.who.device, anchor: sync.standing.anchor });
  await showKit();
  await startBoard();
  // Somebody else may have signed in meanwhile: where there is a signal, ask before the first tap.
  const met = sync.send(VERSION);
  if (navigator.onLine) await Promise.race([met, new Promise((go) => setTimeout(go, MEET_MS))]);
  await refresh();
  document.body.dataset.ready = "yes";
  keepPage(document.body.dataset.worker).catch(() => {}).finally(refresh);
  askToKeep().catch(() => {}).finally(refresh);
  setInterval(tick, 1000);
}

// Entry control is recorded like anything else; nobody calls it, so it has no caller.
async function startBoard() {
  const section = at("entry-board");
  if (!section) return;
  page.board = new EntryBoard(section, {
    burn: () => page.burn,
    now: () => serverTime(sync.standing.anchor).at,
    events: store.events,
    record: async (kind, value, more) => {
      if (!(await record(kind, value, { ...more, caller: "" }))) throw new Error("not recorded");
    },
  });
  await page.board.start();
}

async function showKit() {
  page.kit = await store.kit();
  const burns = page.kit?.burns ?? [];
  const asked = location.hash.slice(1);
  // A page opened from an older kit stands at a burn that has ended; nobody meant to record there.
  if (page.kit && page.burn && !page.meant && !burns.some((burn) => burn.id === page.burn.id)) page.burn = null;
  const still = burns.find((burn) => burn.id === (page.burn?.id ?? asked));
  if (still) choose(still);
  else if (!page.burn && burns.length === 1) choose(burns[0]);
  page.ended = Boolean(page.burn && page.kit && !burns.some((burn) => burn.id === page.burn.id));
  at("choose").hidden = Boolean(page.burn);
  at("work").hidden = at("tabs").hidden = !page.burn;
  for (const place of ["choose-burns", "next-burns"]) {
    at(place).replaceChildren(
      ...burns.map((burn) => element("button", { type: "button", class: "tap", onclick: () => taken(burn) }, burn.unit.name)),
    );
  }
  at("none").hidden = burns.length > 0 || !page.kit;
  at("unprepared").hidden = Boolean(page.kit);
}

function taken(burn) {
  choose(burn);
  page.meant = true;
  location.hash = burn.id;
  at("choose").hidden = true;
  at("work").hidden = at("tabs").hidden = false;
  refresh();
}

function choose(burn) {
  const before = JSON.stringify(page.burn?.unit);
  page.burn = burn;
  store.use({ burn: burn.id });
  document.body.dataset.burn = burn.id;
  if (page.caller && !burn.people.some((each) => each.id === page.caller)) page.caller = "";
  if (before !== JSON.stringify(burn.unit)) drawTaps();
  drawCallers();
}

// Recording

async function record(kind, value, more = {}) {
  const options = { caller: page.caller, corrects: "", ...more };
  try {
    const event = await store.record(kind, value, options);
    page.meant = true;
    document.dispatchEvent(new CustomEvent("charline:recorded", { detail: event }));
    say(word("saved", { what: told(event, page.kit, page.burn) }), "saved", kind === "undo" ? null : event);
    navigator.vibrate?.(40);
    sync.soon(VERSION);
    await refresh();
    autoRescue();
    return event;
  } catch (error) {
    say(word("not_recorded", { why: reason(error) }), "lost");
    navigator.vibrate?.([200, 100, 200]);
    await refresh();
    return null;
  }
}

function reason(error) {
  if (error?.name === "QuotaExceededError") return word("storage_full");
  return word("storage_fails");
}

function undo(event) {
  return record("undo", {}, { corrects: event.id });
}

function say(text, tone, event = null) {
  const box = at("said");
  const back = event ? element("button", { type: "button", class: "undo", onclick: () => undo(event) }, word("undo")) : null;
  box.replaceChildren(element("span", {}, text), ...(back ? [back] : []));
  box.dataset.tone = tone;
  box.hidden = false;
  clearTimeout(page.quiet);
  if (tone !== "lost") page.quiet = setTimeout(() => (box.hidden = true), SAID_MS);
}

async function autoRescue() {
  const count = await store.countUnsent();
  if (!keeping.persisted && count && count % AUTO_RESCUE === 0) await writeRescueFile();
}

// Drawing

function drawTaps() {
  for (const panel of document.querySelectorAll("[data-group]")) {
    if (panel.dataset.group === "board") continue;
    panel.replaceChildren(...drawGroup(panel.dataset.group, page.kit.kinds, page.burn.unit, record, (text) => say(text, "ask")));
  }
  show(page.group);
}

function show(group) {
  page.group = group;
  for (const panel of document.querySelectorAll("[data-group]")) panel.hidden = panel.dataset.group !== group;
  for (const tab of document.querySelectorAll("[data-tab]")) tab.setAttribute("aria-pressed", String(tab.dataset.tab === group));
}

function drawCallers() {
  const named = page.burn.people.filter((each) => each.duties.length);
  const options = named.map((each) =>
    element("button", {
      type: "button", class: "caller", "aria-pressed": String(each.id === page.caller),
      onclick: () => { page.caller = each.id; drawCallers(); at("callers").hidden = true; },
    }, element("strong", {}, each.name), element("small", {}, each.duties.join(", "))),
  );
  const nobody = element("button", {
    type: "button", class: "caller", "aria-pressed": String(!page.caller),
    onclick: () => { page.caller = ""; drawCallers(); at("callers").hidden = true; },
  }, element("strong", {}, word("nobody_called")));
  at("callers").replaceChildren(...options, nobody);
  const name = page.burn.people.find((each) => each.id === page.caller)?.name;
  at("caller").replaceChildren(element("small", {}, word("called_by_label")), element("strong", {}, name ?? word("nobody_called")));
  at("caller").setAttribute("aria-expanded", "false");
}

async function refresh() {
  const fresh = await store.newestKit();
  if (fresh && fresh.made !== page.kit?.made) await showKit();
  page.who = await store.kept("who");
  const [count, set] = await Promise.all([store.countUnsent(), store.aside()]);
  drawStanding(count, set.length);
  await page.board?.restore();
  if (page.burn && page.kit) drawRecent(at("recent"), await store.events(page.burn.id), page.kit, page.burn, undo);
}

function drawStanding(count, set) {
  const { state } = sync.standing;
  at("who").textContent = page.who?.name ?? word("nobody");
  if (page.who?.tablet) for (const link of document.querySelectorAll("[data-sign-in]")) link.href = link.dataset.lock;
  at("place").textContent = [page.burn?.unit.name, page.who?.tablet].filter(Boolean).join(" · ");
  const sending = at("unsent");
  sending.textContent = count ? word(count === 1 ? "unsent_one" : "unsent", { count }) : word("all_sent");
  sending.dataset.tone = count ? "watch" : "calm";
  document.body.dataset.unsent = String(count);
  document.body.dataset.state = state;
  at("state").textContent = word(`state_${state}`);
  notice("signed-out", state === "signed_out");
  notice("other-version", state === "other_version" || Boolean(sync.standing.shell && VERSION && sync.standing.shell !== VERSION));
  notice("refused", state === "refused", sync.standing.reason);
  notice("aside", set > 0, word("aside_told", { count: set }));
  notice("ended", page.ended);
  const safe = (keeping.persisted && keeping.room) || state === "sent" || state === "sending";
  notice("unkept", count > 0 && !safe);
  at("rescue").hidden = count + set === 0;
  at("kept").textContent = word(keeping.persisted ? "kept_yes" : "kept_no");
  at("kept").dataset.tone = keeping.persisted ? "calm" : "watch";
  at("offline").textContent = word(keeping.offline ? "offline_yes" : "offline_no");
  at("offline").dataset.tone = keeping.offline ? "calm" : "watch";
  tick();
}

function notice(id, shown, text = null) {
  const box = at(`notice-${id}`);
  box.hidden = !shown;
  if (text !== null) box.querySelector("[data-text]").textContent = text;
}

function tick() {
  const { at: now, within } = serverTime(sync.standing.anchor);
  const zone = page.kit?.zone ?? "UTC";
  at("clock").textContent = clockTime(now, zone);
  const sure = within !== null && within < 2000;
  at("within").textContent = within === null ? word("clock_unset") : `± ${(within / 1000).toFixed(within < 1000 ? 2 : 0)} s`;
  at("within").dataset.tone = sure ? "calm" : "watch";
  if (page.burn) {
    const passed = Math.max(0, Math.floor((now - page.burn.ignited) / 1000));
    const hours = Math.floor(passed / 3600);
    const minutes = Math.floor((passed % 3600) / 60);
    at("passed").textContent = `${hours ? `${hours}:` : ""}${String(minutes).padStart(2, "0")}:${String(passed % 60).padStart(2, "0")}`;
  }
  if (performance.now() - page.touched > IDLE_MS && page.burn) at("still").hidden = false;
  at("still-name").textContent = page.who?.name ?? "";
}

// Leaving

async function leave(event) {
  event.preventDefault();
  const risk = await store.countAtRisk();
  if (risk) return say(word("leave_unsent", { count: risk }), "lost");
  if (!sync.standing.hello || sync.standing.state !== "sent") return say(word("leave_signal"), "ask");
  if (!(await store.countUnsent())) await store.clear();
  at("leave-token").value = sync.standing.hello.csrf;
  at("leave-form").submit();
}

// Listening

at("tabs").addEventListener("click", (event) => {
  const tab = event.target.closest("[data-tab]");
  if (!tab) return;
  show(tab.dataset.tab);
  window.scrollTo(0, 0);
});
at("caller").addEventListener("click", () => {
  at("callers").hidden = !at("callers").hidden;
  at("caller").setAttribute("aria-expanded", String(!at("callers").hidden));
});
at("rescue").addEventListener("click", async () => {
  const count = await writeRescueFile();
  say(word("rescued", { count }), "saved");
});
at("reload").addEventListener("click", async () => {
  const kept = await navigator.serviceWorker?.getRegistration();
  await kept?.update().catch(() => {});
  location.reload();
});
at("leave").addEventListener("click", leave);
at("still-yes").addEventListener("click", () => (at("still").hidden = true));
document.addEventListener("pointerdown", () => (page.touched = performance.now()), true);
window.addEventListener("online", () => sync.send(VERSION));
window.addEventListener("offline", () => { sync.standing.state = "offline"; refresh(); });
document.addEventListener("visibilitychange", () => { if (!document.hidden) sync.send(VERSION); });
window.addEventListener("hashchange", () => { page.burn = null; showKit().then(refresh); });

// Without storage nothing can be recorded, and the page says so instead of standing there empty.
start().catch(() => {
  document.body.dataset.ready = "no";
  at("nostorage").hidden = false;
});
