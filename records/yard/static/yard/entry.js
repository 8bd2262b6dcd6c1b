// The entry control board on the page: draws what board.js works out, once a second, and records
// what is tapped. It knows nothing but the events, so a reload or an offline start restores it.

import { KINDS, MINUTE, SOUNDING, board, inRange, number, refusal, standing, toldBy } from "./board.js";
import { Pad } from "./pad.js";
import { Sound } from "./sound.js";

const RING_EVERY = 4000;
const QUIET = MINUTE; // how long "heard" silences an alarm that goes on; sight is never silenced
const HAVE_BAR = ["person_in", "person_out", "pressure"];
const MARKS = {
  missing: ["dot-barred", "stop"], whistle: ["dot-barred", "stop"], turn: ["dot-barred", "stop"],
  over_cap: ["dot-barred", "stop"], stay: ["dot-barred", "stop"], soon: ["dot-half", "watch"],
  check: ["dot-half", "watch"], no_air: ["dot-open", "watch"], within: ["dot-full", "calm"],
};

const fill = (words, figures) => words.replace(/\{(\w+)\}/g, (_, name) => {
  const given = figures[name] ?? "";
  return typeof given === "number" ? String(Math.round(given * 10) / 10) : String(given);
});
const clock = (ms) => {
  const seconds = Math.floor(Math.abs(ms) / 1000);
  return `${ms < 0 ? "+" : ""}${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
};
const put = (element, words) => {
  if (element.textContent !== words) element.textContent = words;
};
const tidy = (typed) => typed.trim().split(/\s+/).filter(Boolean).join(" ");

export class EntryBoard {
  // `desk` is the page's side: burn() with its people and figures, record(kind, value, options),
  // events(burn), now() in ms UTC.
  constructor(section, desk) {
    Object.assign(this, { section, desk, events: [], heard: new Map(), rangAt: 0, said: "" });
    const given = JSON.parse(section.dataset.board);
    this.words = given.words;
    this.fill = given.fill;
    this.sound = new Sound();
    this.pad = new Pad(this.at("pad"));
    this.parts = Object.fromEntries(["alarm", "alarm-words", "heard", "quiet"].map((name) => [name, this.at(name)]));
    section.addEventListener("click", (event) => this.#tapped(event));
    this.at("other").addEventListener("submit", (event) => this.#other(event));
    this.at("figures").addEventListener("submit", (event) => this.#figures(event));
    this.at("roll").addEventListener("submit", (event) => this.#rollCalled(event));
    this.at("roll").addEventListener("input", () => this.#countRoll());
    document.addEventListener("visibilitychange", () => this.#keepAwake());
  }

  at(name) {
    return this.parts?.[name] ?? this.section.querySelector(`[data-at="${name}"]`);
  }

  get burn() {
    return this.desk.burn();
  }

  // The alarm stands over the whole page, whichever part of it is being looked at.
  async start() {
    const top = document.querySelector(".yard-top");
    if (top) {
      top.append(this.parts.alarm);
      this.parts.alarm.addEventListener("click", (event) => this.#tapped(event));
    }
    await this.restore();
    setInterval(() => this.draw(), 1000);
  }

  // Everything anew from what is kept on the tablet.
  async restore() {
    if (!this.burn) return;
    this.events = (await this.desk.events(this.burn.id)).filter((event) => KINDS.includes(event.kind) || event.corrects);
    this.draw();
  }

  worked() {
    const { figures, people } = this.burn.board;
    const numbers = Object.fromEntries(figures.map((each) => [each.name, number(each.value)]));
    const names = Object.fromEntries(people.map((each) => [each.who, each.name]));
    return board(this.events.map(toldBy), numbers, this.desk.now(), this.fill, names);
  }

  draw() {
    if (!this.burn?.board) return;
    if (this.shown !== this.burn.id) this.#another();
    const now = this.worked();
    this.#head(now);
    this.#rows(now);
    this.#people(now);
    this.#doubts(now);
    this.#recent();
    this.#origins(now);
    this.#alarm(now);
    put(this.at("sound-state"), this.sound.on ? this.words.sound_on : this.words.sound_off);
    put(this.at("sound"), this.sound.on ? this.words.turn_off : this.words.turn_on);
    this.at("sound-line").classList.toggle("watch", !this.sound.on);
    this.#keepAwake(now.inside.length > 0);
  }

  // Another burn was chosen: nothing of the one before stays on the page.
  #another() {
    this.shown = this.burn.id;
    this.heard.clear();
    this.pad.close();
    this.at("roll").hidden = true;
    for (const name of ["rows", "figure-rows", "people", "recent", "doubts"]) {
      this.at(name).replaceChildren();
      this.at(name).dataset.key = "";
    }
  }

  // Drawing

  #head(now) {
    const [count, cap] = [now.inside.length, now.numbers.cap];
    const words = count === 0 ? this.words.nobody : this.words.inside;
    put(this.at("count"), fill(words, { count }));
    put(this.at("cap"), cap === undefined || cap === null ? this.words.no_cap : fill(this.words.cap, { cap, free: Math.max(0, cap - count) }));
    const first = now.inside.find((row) => row.turn_at !== null);
    put(this.at("first"), first ? fill(first.turn_at > now.at ? this.words.first : this.words.first_late, { name: this.#who(first.goes_by, now), time: clock(Math.abs(first.turn_at - now.at)) }) : "");
    const called = now.called_at === null ? this.words.never_called : fill(this.words.called, { time: this.#time(now.called_at) });
    put(this.at("called"), called);
    const grave = now.alarms.some((code) => SOUNDING.includes(code));
    const answer = this.at("answer");
    answer.classList.toggle("stop", grave);
    answer.classList.toggle("calm", !grave && count > 0 && !now.alarms.length);
    answer.classList.toggle("watch", !grave && now.alarms.length > 0);
  }

  // In the order of going in, and never re-ordered under a thumb; the most urgent stands above.
  #rows(now) {
    const list = this.at("rows");
    const rows = [...now.inside].sort((one, other) => one.stay.in_at - other.stay.in_at || (one.stay.who < other.stay.who ? -1 : 1));
    const there = new Map([...list.children].map((row) => [row.dataset.who, row]));
    rows.forEach((row, place) => {
      const drawn = there.get(row.stay.who) ?? this.#clone("row");
      there.delete(row.stay.who);
      drawn.dataset.who = row.stay.who;
      if (list.children[place] !== drawn) list.insertBefore(drawn, list.children[place] ?? null);
      this.#row(drawn, row, now);
    });
    for (const gone of there.values()) gone.remove();
    this.at("nobody").hidden = rows.length > 0;
  }

  #row(drawn, row, now) {
    const part = (name) => drawn.querySelector(`[data-row="${name}"]`);
    const { stay, air } = row;
    put(part("name"), stay.name);
    put(part("team"), stay.team ? fill(this.words.team, { team: stay.team }) : this.words.alone);
    const code = row.alarms[0] ?? "within";
    const [dot, tone] = MARKS[code];
    part("state").className = `state ${tone}`;
    part("dot").className = `dot ${dot}`;
    put(part("word"), this.words.alarms[code] ?? this.words.within);
    drawn.classList.toggle("alarming", row.alarms.some((each) => SOUNDING.includes(each)));
    const late = row.turn_at !== null && now.at >= row.turn_at;
    const until = row.turn_at === null ? null : (late ? row.whistle_at : row.turn_at);
    put(part("down"), until === null ? "–:––" : clock(until - now.at));
    let what = this.words.no_time;
    if (until !== null) what = late ? (until > now.at ? this.words.to_whistle : this.words.past_whistle) : this.words.to_turn;
    put(part("what"), fill(what, { bar: Math.ceil(air?.turn_bar ?? 0) }));
    const facts = [fill(this.words.minutes, { minutes: Math.floor(row.minutes) })];
    if (row.bar !== null) facts.push(fill(this.words.read, { bar: row.bar, minutes: Math.floor((now.at - row.read_at) / MINUTE) }));
    const reckoned = [];
    if (air) {
      reckoned.push(fill(this.words.reckoned, { bar: Math.floor(air.bar_now) }));
      reckoned.push(fill(this.words.turn_bar, { bar: Math.ceil(air.turn_bar) }));
      reckoned.push(fill(this.words.whistle_at, { time: this.#time(row.whistle_at) }));
      reckoned.push(fill(air.seen ? this.words.rate_seen : this.words.rate, { rate: air.l_min }));
    }
    if (row.goes_by && row.goes_by !== stay.who) facts.push(fill(this.words.goes_by, { name: this.#who(row.goes_by, now) }));
    put(part("facts"), facts.join(" · "));
    put(part("reckoned"), reckoned.join(" · "));
    put(part("also"), row.alarms.slice(1).map((each) => this.words.alarms[each]).join(", "));
  }

  #people(now) {
    const list = this.at("people");
    const inside = new Set(now.inside.map((row) => row.stay.who));
    const been = new Map(now.stays.map((stay) => [stay.who, stay.name]));
    const listed = this.burn.board.people;
    const others = [...been].filter(([who]) => !listed.some((each) => each.who === who)).map(([who, name]) => ({ who, name, duty: "" }));
    const shown = [...listed, ...others].filter((each) => !inside.has(each.who));
    const key = shown.map((each) => `${each.who}|${each.name}`).join(";");
    if (list.dataset.key === key) return;
    list.dataset.key = key;
    list.replaceChildren(...shown.map((each) => {
      const chip = this.#clone("person");
      chip.querySelector("[data-person=name]").textContent = each.name;
      chip.querySelector("[data-person=duty]").textContent = each.duty;
      Object.assign(chip.dataset, { enter: each.who, name: each.name });
      return chip;
    }));
  }

  #doubts(now) {
    const words = now.doubts.map((doubt) => `${this.#time(doubt.at)} ${fill(this.words.doubts[doubt.code], { ...doubt.figures, name: doubt.name })}`);
    const list = this.at("doubts");
    this.at("doubts-part").hidden = words.length === 0;
    if (list.dataset.key === words.join("\n")) return;
    list.dataset.key = words.join("\n");
    list.replaceChildren(...words.map((each) => Object.assign(document.createElement("li"), { textContent: each })));
  }

  #recent() {
    const struck = new Set(this.events.map((event) => event.corrects).filter(Boolean));
    const names = new Map([
      ...this.events.filter((event) => event.value?.name).map((event) => [event.value.who, event.value.name]),
      ...this.burn.board.people.map((each) => [each.who, each.name]),
    ]);
    const shown = this.events
      .filter((event) => KINDS.includes(event.kind) && !struck.has(event.id))
      .sort((one, other) => other.at - one.at || other.device_seq - one.device_seq)
      .slice(0, 8);
    const key = shown.map((event) => event.id).join(";");
    const list = this.at("recent");
    if (list.dataset.key === key) return;
    list.dataset.key = key;
    list.replaceChildren(...shown.map((event) => {
      const line = this.#clone("recent");
      const figures = { ...event.value, name: names.get(event.value.who) ?? event.value.who, missing: (event.value.missing ?? []).map((who) => names.get(who) ?? who).join(", ") };
      const said = event.kind === "roll_call" && !event.value.missing?.length ? this.words.told.roll_call_all : this.words.told[event.kind];
      line.querySelector("[data-recent=time]").textContent = this.#time(event.at);
      line.querySelector("[data-recent=words]").textContent = fill(said, { ...figures, bar: event.value.bar ?? "–" });
      const correct = line.querySelector("[data-correct]");
      correct.hidden = !HAVE_BAR.includes(event.kind);
      correct.dataset.correct = event.id;
      line.querySelector("[data-strike]").dataset.strike = event.id;
      return line;
    }));
  }

  #origins(now) {
    const form = this.at("figure-rows");
    const typed = standing(this.events.map(toldBy)).filter((event) => event.kind === "air_numbers");
    if (!form.children.length) form.replaceChildren(...this.burn.board.figures.map((each) => this.#figure(each)));
    for (const each of this.burn.board.figures) {
      const row = form.querySelector(`[data-figure="${each.name}"]`);
      const last = typed.findLast((event) => number(event.value[each.name]) === now.numbers[each.name]);
      const known = now.numbers[each.name] !== null && now.numbers[each.name] !== undefined;
      const origin = last ? fill(this.words.typed_at, { time: this.#time(last.at) }) : each.origin;
      put(row.querySelector("[data-figure-now]"), known ? fill(this.words.stands, { value: now.numbers[each.name], unit: each.unit }).trim() : this.words.not_known);
      put(row.querySelector("[data-figure-origin]"), known ? origin : this.words.type_it);
      row.classList.toggle("unknown", !known && each.needed);
    }
    const missing = this.burn.board.figures.filter((each) => each.needed && (now.numbers[each.name] ?? null) === null);
    put(this.at("unknown"), missing.length ? fill(this.words.unknown, { figures: missing.map((each) => each.label).join(", ") }) : "");
    this.at("unknown").hidden = missing.length === 0;
  }

  #figure(each) {
    const row = this.#clone("figure");
    row.dataset.figure = each.name;
    const input = row.querySelector("input");
    Object.assign(input, { id: `figure-${each.name}`, name: each.name, inputMode: each.decimals ? "decimal" : "numeric" });
    const label = row.querySelector("label");
    label.htmlFor = input.id;
    label.textContent = each.label.charAt(0).toUpperCase() + each.label.slice(1);
    row.querySelector("[data-figure-unit]").textContent = each.unit;
    return row;
  }

  // By sight in words, to a reader's ears once, and by sound until somebody has heard it.
  #alarm(now) {
    const names = { missing: now.missing.map(([, name]) => name) };
    const due = now.missing.map(([who]) => [`${who}:missing`, "missing"]);
    for (const row of now.inside) {
      const grave = row.alarms.filter((code) => SOUNDING.includes(code) && code !== "missing");
      if (grave.length) (names[grave[0]] ??= []).push(row.stay.name);
      due.push(...grave.map((code) => [`${row.stay.who}:${code}`, code]));
    }
    const lines = SOUNDING.filter((code) => names[code]?.length).map((code) => `${this.words.alarms[code]}: ${names[code].join(", ")}`);
    if (now.alarms.includes("over_cap")) {
      lines.push(fill(this.words.over_cap, { count: now.inside.length, cap: now.numbers.cap }));
      due.push(["over_cap", "over_cap"]);
    }
    const said = lines.join("\n");
    if (said !== this.said) {
      this.said = said;
      this.at("alarm-words").textContent = said;
      this.at("alarm").hidden = !said;
    }
    this.due = due;
    const loud = due.filter(([key]) => (this.heard.get(key) ?? 0) <= now.at).map(([, code]) => code);
    this.at("heard").hidden = !loud.length;
    put(this.at("quiet"), due.length && !loud.length ? this.words.quiet : "");
    if (loud.length && now.at - this.rangAt >= RING_EVERY) {
      this.rangAt = now.at;
      this.sound.ring(loud);
    }
    this.section.dataset.ringing = loud.length ? "yes" : "no";
    const tab = document.querySelector('[data-tab="board"]');
    if (tab) Object.assign(tab.dataset, { count: now.inside.length, alarm: due.length ? "yes" : "no" });
  }

  #clone(name) {
    return this.section.querySelector(`template[data-of="${name}"]`).content.firstElementChild.cloneNode(true);
  }

  #who(who, now) {
    return now.stays.find((stay) => stay.who === who)?.name ?? who;
  }

  #time(at) {
    const zone = this.burn.board.zone;
    return new Date(at).toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit", timeZone: zone });
  }

  // Tapping

  #tapped(event) {
    const button = event.target.closest("button");
    if (!button) return;
    const { act, enter, name, correct, strike } = button.dataset;
    if (button === this.at("sound")) this.#switchSound();
    else if (button === this.at("heard")) this.#hear();
    else if (button === this.at("call")) this.#openRoll();
    else if (button === this.at("roll-cancel")) this.at("roll").hidden = true;
    else if (enter) this.#enter(enter, name);
    else if (act) this.#gauge(act, button.closest("[data-who]").dataset.who);
    else if (correct) this.#correct(correct);
    else if (strike) this.#strike(button, strike);
  }

  async #switchSound() {
    if (this.sound.on) await this.sound.stop();
    else await this.sound.start();
    this.draw();
  }

  #hear() {
    const until = this.desk.now() + QUIET;
    for (const [key] of this.due ?? []) this.heard.set(key, until);
    this.draw();
  }

  #enter(who, name) {
    this.pad.open({
      title: fill(this.words.in_title, { name }), act: this.words.in_act, team: true,
      done: async (bar) => {
        // Whoever is on the list goes by the public id alone; a name is kept of others only.
        const listed = this.burn.board.people.some((each) => each.who === who);
        const value = { who, bar, ...(!listed && { name }), ...(this.pad.team && { team: this.pad.team }) };
        const refused = refusal(this.worked(), value);
        if (refused) return fill(this.words.refusals[refused[0]], { ...refused[1], name });
        return this.#note("person_in", value);
      },
    });
  }

  #gauge(kind, who) {
    const now = this.worked();
    const name = this.#who(who, now);
    const out = kind === "person_out";
    this.pad.open({
      title: fill(out ? this.words.out_title : this.words.read_title, { name }),
      act: out ? this.words.out_act : this.words.read_act,
      without: out,
      done: async (bar) => this.#note(kind, bar === null ? { who } : { who, bar }),
    });
  }

  #correct(id) {
    const event = this.events.find((each) => each.id === id);
    const name = this.#who(event.value.who, this.worked());
    this.pad.open({
      title: fill(this.words.correct_title, { name, bar: event.value.bar ?? "–" }), act: this.words.correct_act,
      done: async (bar) => this.#note(event.kind, { ...event.value, bar }, { corrects: id }),
    });
  }

  async #note(kind, value, options = {}) {
    if ("bar" in value && (value.bar === undefined || !this.#fits(value.bar))) return this.words.refusals.no_bar;
    try {
      await this.desk.record(kind, value, options);
    } catch {
      return this.words.not_recorded;
    }
    await this.restore();
    return "";
  }

  #fits(bar) {
    return Number.isInteger(bar) && bar >= 0 && bar <= this.burn.board.bar_highest;
  }

  // A second tap within four seconds strikes it out; the first asks.
  async #strike(button, id) {
    if (button.dataset.sure !== "yes") {
      button.dataset.sure = "yes";
      button.textContent = this.words.strike_sure;
      setTimeout(() => {
        button.dataset.sure = "";
        button.textContent = this.words.strike;
      }, 4000);
      return;
    }
    const wrong = await this.#note("undo", {}, { corrects: id });
    if (wrong) this.#complain(wrong);
  }

  #complain(words) {
    put(this.at("complaint"), words);
    this.at("complaint").hidden = !words;
  }

  #other(event) {
    event.preventDefault();
    const input = event.target.querySelector("input");
    const code = tidy(input.value);
    const wrong = !code || code.length > 40 ? this.words.bad_code : "";
    this.#complain(wrong);
    if (wrong) return;
    input.value = "";
    this.#enter(code, code);
  }

  async #figures(event) {
    event.preventDefault();
    const value = {};
    const wrong = [];
    for (const each of this.burn.board.figures) {
      const input = event.target.elements[each.name];
      const typed = input.value.trim().replace(",", ".");
      const fits = inRange(each.name, number(typed)) && (typed.split(".")[1] ?? "").length <= each.decimals;
      input.setAttribute("aria-invalid", typed && !fits ? "true" : "false");
      if (!typed) continue;
      if (fits) value[each.name] = each.decimals ? typed : Number(typed);
      else wrong.push(fill(this.words.bad_figure, { label: each.label, given: typed, low: each.low, high: each.high, unit: each.unit, decimals: each.decimals }));
    }
    if (!wrong.length && !Object.keys(value).length) wrong.push(this.words.no_figure);
    if (!wrong.length) {
      const failed = await this.#note("air_numbers", value);
      if (failed) wrong.push(failed);
      else event.target.reset();
    }
    put(this.at("figures-error"), wrong.join(" "));
    this.at("figures-error").hidden = !wrong.length;
  }

  #openRoll() {
    const now = this.worked();
    this.at("roll-names").replaceChildren(...now.inside.map((row) => {
      const line = this.#clone("answers");
      line.querySelector("input").value = row.stay.who;
      line.querySelector("span").textContent = row.stay.name;
      return line;
    }));
    this.at("roll").hidden = false;
    this.at("roll").scrollIntoView({ block: "nearest" });
    this.#countRoll();
  }

  #missing() {
    const unanswered = [...this.at("roll-names").querySelectorAll("input:not(:checked)")].map((input) => input.value);
    const other = tidy(this.at("roll").elements.other.value).slice(0, 40);
    return [...new Set([...unanswered, ...(other ? [other] : [])])];
  }

  #countRoll() {
    const missing = this.#missing().length;
    put(this.at("roll-act"), missing ? fill(this.words.roll_missing, { count: missing }) : this.words.roll_all);
  }

  async #rollCalled(event) {
    event.preventDefault();
    const wrong = await this.#note("roll_call", { missing: this.#missing() });
    this.#complain(wrong);
    if (wrong) return;
    event.target.reset();
    this.at("roll").hidden = true;
  }

  // A tablet that sleeps sounds no alarm, so while somebody is inside it is kept awake.
  async #keepAwake(wanted = this.awake) {
    this.awake = wanted;
    if (!wanted || document.visibilityState !== "visible") {
      await this.lock?.release();
      this.lock = null;
      return;
    }
    if (this.lock && !this.lock.released) return;
    if (this.asking || !navigator.wakeLock) return;
    this.asking = true;
    try {
      this.lock = await navigator.wakeLock.request("screen");
    } catch {
      this.lock = null; // refused, for instance with little charge; the page works on without
    } finally {
      this.asking = false;
    }
  }
}
