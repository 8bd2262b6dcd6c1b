// The newest events, each in words, with who called it, whether it is safe, and its undo.

import { ASIDE, UNSENT } from "./store.js";
import { capital, clockTime, element, word } from "./words.js";

const SHOWN = 12;

export function told(event, kit, burn) {
  const kind = kit.kinds.find((each) => each.name === event.kind);
  if (!kind) return event.kind;
  const values = kind.fields.filter((field) => field.name in event.value).map((field) => {
    const words = valueWords(field, event.value[field.name], burn);
    return field.labelled ? `${field.label} ${words}` : words;
  });
  if (event.kind === "stage") return capital(values[0]);
  return [capital(kind.label), ...values].join(", ");
}

function valueWords(field, value, burn) {
  const named = (id) => [...burn.unit.openings, ...burn.unit.positions, ...burn.people].find((each) => each.id === id)?.name ?? id;
  if (field.kept === "choice") return field.choices.find(([key]) => key === value)?.[1] ?? value;
  if (field.kept === "parts" || field.kept === "people") return value.map(named).join(", ");
  if (field.kept === "part" || field.kept === "person") return named(value);
  if (field.kept === "decimal") return `${value} ${field.unit}`;
  if (field.kept === "whole") return `${value} ${field.unit}`.trim();
  return value;
}

export function drawRecent(list, events, kit, burn, undo) {
  const struck = new Set(events.map((each) => each.corrects).filter(Boolean));
  const shown = events.filter((each) => each.kind !== "undo").slice(-SHOWN).reverse();
  list.replaceChildren(...shown.map((event) => line(event, struck.has(event.id), kit, burn, undo)));
  if (!shown.length) list.append(element("li", { class: "quiet" }, word("none_yet")));
}

function line(event, struck, kit, burn, undo) {
  const words = told(event, kit, burn);
  const caller = burn.people.find((each) => each.id === event.caller)?.name;
  const state = event.state === UNSENT ? word("not_sent") : event.state === ASIDE ? word("set_aside") : word("sent");
  const small = [caller ? word("called_by", { name: caller }) : null, state].filter(Boolean).join(" · ");
  return element(
    "li", { class: struck ? "struck" : "", "data-id": event.id, "data-state": event.state },
    element("time", {}, clockTime(event.at, kit.zone)),
    element("span", { class: "what" }, struck ? element("s", {}, words) : words, element("small", {}, struck ? word("struck") : small)),
    struck ? null : element("button", { type: "button", class: "undo", "aria-label": word("undo_this", { what: words }), onclick: () => undo(event) }, word("undo")),
  );
}
