// Who is inside, with how much air: the twin of facility/yard/air_board.py, where the law stands.
// Pure functions over events; tests/yard/board_cases.json holds both to the same answers.

import { airHeld, airTime, pressureOf } from "./air.js";

export const KINDS = ["person_in", "person_out", "pressure", "roll_call", "air_numbers"];
export const MINUTE = 60000;
const CALLED_BEFORE = 2 * MINUTE;
const SEEN_OVER = 2 * MINUTE;
const HIGHEST = 500;
const RANGES = {
  cylinder_l: [1, 50], cylinders: [1, 4], nominal_bar: [50, 500], whistle_bar: [1, 500],
  l_min: [10, 500], way_out: [0, 10], start_pct: [0, 100], cap: [0, 100],
  check_min: [1, 120], stay_min: [1, 240],
};
const WHOLE = ["cylinders", "cap"];
const LOWERED_ONLY = ["cap", "check_min", "stay_min"];
export const ALARMS = ["missing", "whistle", "turn", "over_cap", "stay", "soon", "check", "no_air"];
export const SOUNDING = ["missing", "whistle", "turn", "over_cap", "stay"];

const compare = (one, other) => (one < other ? -1 : one > other ? 1 : 0);
const byKey = (one, other) => {
  for (let place = 0; place < one.length; place += 1) {
    const found = compare(one[place], other[place]);
    if (found) return found;
  }
  return 0;
};
const known = (value) => value !== null && value !== undefined;
const least = (values) => (values.length ? Math.min(...values) : null);

const text = (value, key) => {
  const given = value?.[key];
  return typeof given === "string" ? given.trim().split(/\s+/).filter(Boolean).join(" ") : "";
};

// A number as sent or typed: plain decimals only, nothing below zero.
export const number = (given) => {
  let read = given;
  if (typeof given === "string") read = /^[0-9]{1,9}(\.[0-9]{1,9})?$/.test(given.trim()) ? Number(given) : null;
  return typeof read === "number" && read >= 0 && read <= 1e9 ? read : null;
};
const pressure = (value) => {
  const bar = number(value?.bar);
  return bar !== null && bar <= HIGHEST ? bar : null;
};

export const inRange = (name, read) => {
  if (read === null || !(name in RANGES)) return false;
  const [low, high] = RANGES[name];
  return read >= low && read <= high && (!WHOLE.includes(name) || Number.isInteger(read));
};
export const rangeOf = (name) => RANGES[name];

// The numbers with those somebody typed; the limits of the plan or standard are only ever lowered.
export const typed = (numbers, value) => {
  const told = { ...numbers };
  for (const name of Object.keys(RANGES)) {
    const read = number(value?.[name]);
    if (!inRange(name, read)) continue;
    const lowered = LOWERED_ONLY.includes(name) && known(numbers[name]);
    told[name] = lowered ? Math.min(numbers[name], read) : read;
  }
  return told;
};

const firstTold = (event, events) => {
  const been = new Set([event.id]);
  let first = event;
  while (events.has(first.corrects) && !been.has(first.corrects)) {
    const before = events.get(first.corrects);
    if (before.kind !== event.kind) break;
    been.add(before.id);
    first = before;
  }
  return first;
};

// The events that count, in the order things happened; what another one corrects does not count.
export const standing = (told) => {
  const events = new Map(told.map((event) => [event.id, event]));
  const order = new Map();
  const latest = new Map();
  const all = [...events.values()];
  const key = (event) => [event.device, event.seq, event.at, event.id];
  for (const event of [...all].sort((one, other) => byKey(key(one), key(other)))) {
    latest.set(event.device, Math.max(latest.get(event.device) ?? event.at, event.at));
    order.set(event.id, [latest.get(event.device), event.device, event.seq, event.id]);
  }
  const struck = new Set(all.map((event) => event.corrects).filter(Boolean));
  return all
    .filter((event) => !struck.has(event.id))
    .map((event) => {
      const first = firstTold(event, events);
      return [[...order.get(first.id), ...order.get(event.id)], { ...event, at: first.at }];
    })
    .sort((one, other) => byKey(one[0], other[0]))
    .map(([, event]) => event);
};

export const minutesOf = (stay, at) => Math.max(0, (stay.out_at ?? at) - stay.in_at) / MINUTE;
const lowestOf = (stay) => least(stay.readings.map((reading) => reading.bar));

class Book {
  constructor(numbers, people) {
    Object.assign(this, { numbers, people, inside: new Map(), stays: [], doubts: [], missing: new Map(), calledAt: null, names: new Map(people) });
  }

  doubt(code, who, name, at, figures = {}) {
    this.doubts.push({ code, who, name, at, figures });
  }

  enter(event) {
    if (event.kind === "air_numbers") this.numbers = typed(this.numbers, event.value);
    else if (event.kind === "roll_call") this.rollCall(event);
    else if (["person_in", "person_out", "pressure"].includes(event.kind)) {
      const who = text(event.value, "who");
      if (!who) {
        this.doubt("unreadable", "", "", event.at);
        return;
      }
      const told = text(event.value, "name");
      if (told && !this.people?.has(who)) this.names.set(who, told);
      const name = this.names.get(who) ?? who;
      if (event.kind === "person_in") this.comesIn(event, who, name);
      else if (event.kind === "person_out") this.goesOut(event, who, name);
      else this.isRead(event, who, name);
    }
  }

  comesIn(event, who, name) {
    this.missing.delete(who);
    if (this.inside.has(who)) {
      this.doubt("in_twice", who, name, event.at);
      this.gauge(this.inside.get(who), event);
      return;
    }
    if (this.people && !this.people.has(who)) this.doubt("unknown", who, name, event.at);
    const stay = { who, name, team: text(event.value, "team"), purpose: text(event.value, "purpose"), in_at: event.at, out_at: null, readings: [] };
    this.inside.set(who, stay);
    this.stays.push(stay);
    const { cap, nominal_bar: nominal, start_pct: share } = this.numbers;
    if (known(cap) && this.inside.size > cap) this.doubt("over_cap", who, name, event.at, { count: this.inside.size, cap });
    const bar = this.gauge(stay, event);
    if (bar !== null && known(nominal) && known(share) && bar < (nominal * share) / 100) {
      this.doubt("low_start", who, name, event.at, { bar, least: (nominal * share) / 100 });
    }
  }

  goesOut(event, who, name) {
    this.missing.delete(who);
    const stay = this.inside.get(who);
    if (!stay) {
      this.doubt("out_before_in", who, name, event.at);
      return;
    }
    this.inside.delete(who);
    this.gauge(stay, event);
    stay.out_at = Math.max(stay.in_at, event.at);
  }

  isRead(event, who, name) {
    const stay = this.inside.get(who);
    if (!stay) this.doubt("not_inside", who, name, event.at);
    else if (this.gauge(stay, event) === null) this.doubt("unreadable", who, name, event.at);
  }

  gauge(stay, event) {
    const bar = pressure(event.value);
    if (bar === null) return null;
    const nominal = this.numbers.nominal_bar;
    if (known(nominal) && bar > nominal) this.doubt("above_nominal", stay.who, stay.name, event.at, { bar, nominal });
    const before = least(stay.readings.filter((reading) => reading.counts).map((reading) => reading.bar)) ?? Infinity;
    if (bar > before) this.doubt("rising", stay.who, stay.name, event.at, { bar, before });
    stay.readings.push({ at: event.at, bar, counts: bar <= before });
    return bar;
  }

  rollCall(event) {
    const named = event.value?.missing;
    if (!Array.isArray(named)) {
      this.doubt("unreadable", "", "", event.at);
      return;
    }
    this.calledAt = event.at;
    this.missing = new Map();
    for (const who of named.map((one) => text({ who: one }, "who")).filter(Boolean)) {
      this.missing.set(who, this.names.get(who) ?? who);
      if (!this.inside.has(who)) this.doubt("missing_outside", who, this.missing.get(who), event.at);
    }
  }

  lookBack(stay, at) {
    const { stay_min: longest, check_min: interval, whistle_bar: whistle } = this.numbers;
    const minutes = minutesOf(stay, at);
    if (known(longest) && minutes > longest) {
      this.doubt("over_stay", stay.who, stay.name, stay.in_at, { minutes: Math.floor(minutes), most: longest });
    }
    const end = Math.max(stay.in_at, stay.out_at ?? at);
    const marks = [stay.in_at, ...stay.readings.map((reading) => reading.at), end].sort((one, other) => one - other);
    const gap = Math.max(...marks.slice(1).map((mark, place) => mark - marks[place])) / MINUTE;
    if (known(interval) && gap > interval) {
      this.doubt("unchecked", stay.who, stay.name, stay.in_at, { minutes: Math.floor(gap), most: interval });
    }
    const lowest = lowestOf(stay);
    if (lowest !== null && known(whistle) && lowest <= whistle) {
      this.doubt("on_reserve", stay.who, stay.name, stay.in_at, { bar: lowest, whistle });
    }
  }
}

const seenOf = (held) => {
  const [when, left] = held.at(-1);
  const since = [held[0], held.at(-2) ?? held[0]]
    .filter(([then]) => when - then >= SEEN_OVER)
    .map(([then, was]) => (was - left) / ((when - then) / MINUTE));
  return since.length ? Math.max(...since) : 0;
};

const IDEAL = { pressures: [0], factors: [1] };

const airOf = (stay, numbers, real, at) => {
  const fill = numbers.gas === "ideal" ? IDEAL : real;
  const counted = stay.readings.filter((reading) => reading.counts);
  const { cylinder_l: cylinder, whistle_bar: whistle, l_min: planned, way_out: wayOut } = numbers;
  if (![cylinder, whistle, planned, wayOut].every(known) || !counted.length) return null;
  const volume = cylinder * (numbers.cylinders ?? 1);
  const top = numbers.nominal_bar ?? Infinity;
  const start = Math.min(counted[0].bar, top);
  const held = counted.map((reading) => [reading.at, airHeld(Math.min(reading.bar, top), volume, fill)]);
  const seen = seenOf(held);
  const rate = Math.max(planned, seen);
  const { turnaround_pressure: turn } = airTime({
    volume, start: Math.max(start, 0.01), consumption: planned, reserve: whistle, wayOut, fill,
  });
  const turnBar = Math.max(whistle, Math.min(start, turn));
  const [when, left] = held.at(-1);
  const reached = (bar) => when + Math.floor(((left - airHeld(bar, volume, fill)) / rate) * MINUTE);
  return {
    bar_now: pressureOf(Math.max(0, left - (rate * Math.max(0, at - when)) / MINUTE), volume, fill),
    turn_bar: turnBar,
    turn_at: reached(turnBar),
    whistle_at: reached(whistle),
    empty_at: reached(0),
    l_min: rate,
    seen: seen > planned,
  };
};

const rowOf = (stay, team, airs, numbers, at, missing) => {
  const reckoned = team.filter((mate) => airs.get(mate.who));
  const first = [...reckoned].sort((one, other) => byKey([airs.get(one.who).turn_at, one.who], [airs.get(other.who).turn_at, other.who]))[0];
  const turnAt = first ? airs.get(first.who).turn_at : null;
  const whistleAt = least(reckoned.map((mate) => airs.get(mate.who).whistle_at));
  const read = stay.readings.filter((reading) => reading.counts).at(-1);
  const over = {
    missing: missing.has(stay.who),
    whistle: whistleAt !== null && at >= whistleAt,
    turn: turnAt !== null && at >= turnAt,
    stay: known(numbers.stay_min) && at - stay.in_at > numbers.stay_min * MINUTE,
    soon: turnAt !== null && turnAt > at && at >= turnAt - CALLED_BEFORE,
    check: known(numbers.check_min) && at - (read?.at ?? stay.in_at) > numbers.check_min * MINUTE,
    no_air: !airs.get(stay.who),
  };
  return {
    stay, minutes: minutesOf(stay, at), bar: read?.bar ?? null, read_at: read?.at ?? null,
    air: airs.get(stay.who), turn_at: turnAt, whistle_at: whistleAt, goes_by: first?.who ?? "",
    alarms: ALARMS.filter((code) => over[code]),
  };
};

const urgency = (row) => [
  row.alarms.length ? ALARMS.indexOf(row.alarms[0]) : ALARMS.length,
  row.turn_at ?? Infinity, row.stay.in_at, row.stay.who,
];

// The board at a moment, from every event told so far. `people` are the names of those on the lists
// of the burn by public id, or null where nobody is doubted.
export const board = (told, numbers, at, fill, people = null) => {
  const book = new Book(numbers, people && new Map(Object.entries(people)));
  for (const event of standing(told)) book.enter(event);
  const here = new Set(told.map((event) => event.id));
  for (const event of told) {
    if (event.corrects && !here.has(event.corrects) && KINDS.includes(event.kind)) book.doubt("corrects_unknown", "", "", event.at);
  }
  for (const stay of book.stays) book.lookBack(stay, at);
  const stays = [...book.inside.values()];
  const airs = new Map(stays.map((stay) => [stay.who, airOf(stay, book.numbers, fill, at)]));
  const inside = stays
    .map((stay) => {
      const team = stays.filter((mate) => mate === stay || (stay.team && mate.team === stay.team));
      return rowOf(stay, team, airs, book.numbers, at, book.missing);
    })
    .sort((one, other) => byKey(urgency(one), urgency(other)));
  const found = new Set(inside.flatMap((row) => row.alarms));
  if (book.missing.size) found.add("missing");
  if (known(book.numbers.cap) && inside.length > book.numbers.cap) found.add("over_cap");
  return {
    at, inside, stays: book.stays, doubts: book.doubts, missing: [...book.missing], called_at: book.calledAt,
    numbers: book.numbers, alarms: ALARMS.filter((code) => found.has(code)),
  };
};

// An event of the store as the board reads it.
export const toldBy = (event) => ({
  id: event.id, kind: event.kind, value: event.value, at: event.at, device: event.device,
  seq: event.device_seq, corrects: event.corrects ?? "",
});

export const minutesByPerson = (now) => {
  const minutes = {};
  for (const stay of now.stays) minutes[stay.who] = (minutes[stay.who] ?? 0) + minutesOf(stay, now.at);
  return minutes;
};

// Why a tablet refuses to count somebody in: a code and the figures for its words, or null.
export const refusal = (now, value) => {
  const who = text(value, "who");
  const bar = pressure(value);
  const { cap, whistle_bar: whistle } = now.numbers;
  if (!who) return ["no_one", {}];
  if (bar === null) return ["no_bar", {}];
  if (now.inside.some((row) => row.stay.who === who)) return ["inside", {}];
  if (known(cap) && now.inside.length >= cap) return ["over_cap", { count: now.inside.length, cap }];
  if (known(whistle) && bar <= whistle) return ["no_air", { bar, whistle }];
  return null;
};
