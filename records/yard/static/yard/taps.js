// The targets of one group, drawn from the register of kinds: one tap is one event.

import { planeWidget } from "./plane.js";
import { capital, element, word } from "./words.js";

const chosen = new Map(); // what was chosen last, by kind and field: it stays for the next time

const tap = (text, act, more = "") => element("button", { type: "button", class: `tap ${more}`.trim(), onclick: act }, text);

function box(title, ...children) {
  return element("section", { class: "tap-box" }, element("h2", {}, title), ...children);
}

const row = (...children) => element("div", { class: "tap-row" }, ...children);

// `record(kind, value)` records; `ask(sentence)` says what is missing.
export function drawGroup(group, kinds, unit, record, ask) {
  const ours = kinds.filter((kind) => kind.group === group);
  const plain = ours.filter((kind) => kind.fields.length === 0);
  const made = [];
  const plainRow = plain.length ? row(...plain.map((kind) => tap(capital(kind.label), () => record(kind.name, {})))) : null;
  for (const kind of ours) {
    const shape = shapeOf(kind);
    if (shape) made.push(shape(kind, ours, unit, record, ask));
  }
  return group === "fire" ? [plainRow, ...made].filter(Boolean) : [...made, plainRow].filter(Boolean);
}

function shapeOf(kind) {
  if (kind.fields.length === 0) return null;
  if (kind.name === "neutral_plane") return plane;
  if (kind.name === "vent_opened") return openings;
  if (kind.name === "alight") return positions;
  if (kind.name === "vent_closed" || kind.name === "not_alight") return null;
  if (kind.name === "stop") return reasons;
  if (kind.name === "fuel_added") return counted;
  if (kind.name === "layers") return numbers;
  if (kind.fields.length === 1 && kind.fields[0].kept === "choice") return choices;
  return several;
}

function choices(kind, _ours, _unit, record) {
  const [field] = kind.fields;
  return box(
    capital(kind.label),
    row(...field.choices.map(([key, label]) => tap(capital(label), () => record(kind.name, { [field.name]: key })))),
  );
}

function numbers(kind, _ours, _unit, record) {
  const [field] = kind.fields;
  const all = Array.from({ length: field.high - field.low + 1 }, (_, at) => field.low + at);
  return box(
    capital(kind.label),
    element("div", { class: "tap-row narrow" }, ...all.map((n) => tap(String(n), () => record(kind.name, { [field.name]: n })))),
  );
}

function plane(kind, _ours, unit, record) {
  return box(capital(kind.label), planeWidget(unit, (height) => record(kind.name, { height_m: height })));
}

function pairs(parts, field, yes, no, record) {
  return parts.map((part) => {
    const value = field.kept === "parts" ? [part.id] : part.id;
    return element(
      "div", { class: "pair" }, element("span", { class: "pair-name" }, part.name),
      tap(yes.text, () => record(yes.kind, { [field.name]: value })),
      tap(no.text, () => record(no.kind, { [field.name]: value })),
    );
  });
}

function openings(kind, _ours, unit, record) {
  const yes = { kind: "vent_opened", text: word("opened") };
  const no = { kind: "vent_closed", text: word("closed") };
  return box(word("openings"), ...pairs(unit.openings, kind.fields[0], yes, no, record));
}

function positions(kind, _ours, unit, record) {
  const yes = { kind: "alight", text: word("alight") };
  const no = { kind: "not_alight", text: word("not_alight") };
  return box(word("charge"), ...pairs(unit.positions, kind.fields[0], yes, no, record));
}

function counted(kind, _ours, _unit, record) {
  let count = 1;
  const shown = element("button", { type: "button", class: "main big" });
  const show = () => (shown.textContent = word("note_boards", { count }));
  const by = (change) => () => {
    count = Math.min(50, Math.max(1, count + change));
    show();
  };
  shown.addEventListener("click", () => record(kind.name, { boards: count }));
  show();
  return box(
    capital(kind.label),
    element(
      "div", { class: "stepper" },
      element("button", { type: "button", class: "step", "aria-label": word("fewer"), onclick: by(-1) }, "−"),
      shown,
      element("button", { type: "button", class: "step", "aria-label": word("more"), onclick: by(1) }, "+"),
    ),
  );
}

function several(kind, _ours, _unit, record, ask) {
  const note = tap(word("note", { what: kind.label }), () => {
    const value = {};
    for (const field of kind.fields) {
      const key = chosen.get(`${kind.name}.${field.name}`);
      if (key === undefined) return ask(word("choose_first", { what: field.label }));
      value[field.name] = key;
    }
    record(kind.name, value);
  }, "main");
  return box(capital(kind.label), ...kind.fields.map((field) => chips(kind, field)), row(note));
}

function chips(kind, field) {
  const key = `${kind.name}.${field.name}`;
  const all = field.choices.map(([value, label]) => {
    const chip = element("button", { type: "button", class: "chip", "aria-pressed": String(chosen.get(key) === value) }, label);
    chip.addEventListener("click", () => {
      chosen.set(key, value);
      for (const each of all) each.setAttribute("aria-pressed", String(each === chip));
    });
    return chip;
  });
  return element("div", { class: "chips", role: "group", "aria-label": field.label }, element("span", { class: "chips-name" }, capital(field.label)), ...all);
}

function reasons(kind, _ours, _unit, record, ask) {
  const typed = element("input", { type: "text", maxlength: "200", "aria-label": word("reason"), placeholder: word("reason"), autocomplete: "off" });
  const usual = ["reason_hot", "reason_person", "reason_equipment", "reason_instructor"].map((name) =>
    tap(capital(word(name)), () => record(kind.name, { reason: word(name) }), "stop"),
  );
  const own = tap(word("note_stop"), () => {
    const reason = typed.value.trim();
    if (!reason) return ask(word("reason_first"));
    record(kind.name, { reason });
    typed.value = "";
  }, "stop");
  return box(capital(kind.label), row(...usual), typed, row(own));
}
