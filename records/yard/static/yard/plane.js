// The neutral plane: a line to be pulled up and down over the door end, drawn from the unit itself.

import { element, word } from "./words.js";

const SVG = "http://www.w3.org/2000/svg";
const STEP_CM = 5;

function drawn(tag, attributes) {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  return made;
}

const cm = (metres) => Math.round(Number(metres) * 100);

// `note` is called with the height in metres as text, such as "1.10".
export function planeWidget(unit, note) {
  const tall = cm(unit.height);
  const wide = cm(unit.width);
  const door = unit.openings.find((each) => each.front && !each.roof);
  let height = Math.round((door ? cm(door.sill) + cm(door.height) / 2 : tall / 2) / STEP_CM) * STEP_CM;

  const svg = drawn("svg", {
    viewBox: `-12 -12 ${wide + 24} ${tall + 24}`, class: "plane", role: "slider", tabindex: "0",
    "aria-label": word("plane"), "aria-valuemin": "0", "aria-valuemax": String(tall / 100),
  });
  const smoke = drawn("rect", { x: 0, y: 0, width: wide, height: 0, class: "hot" });
  svg.append(drawn("rect", { x: 0, y: 0, width: wide, height: tall, class: "shell" }), smoke);
  if (door) svg.append(...doorway(door, wide, tall));
  const line = drawn("line", { x1: -6, x2: wide + 6, class: "level" });
  const grip = drawn("circle", { cx: wide / 2, r: 13, class: "grip" });
  const label = drawn("text", { x: wide - 8, class: "level-text", "text-anchor": "end" });
  svg.append(line, grip, label);

  const button = element("button", { type: "button", class: "main big", onclick: () => note((height / 100).toFixed(2)) });

  function show() {
    const y = tall - height;
    smoke.setAttribute("height", y);
    line.setAttribute("y1", y);
    line.setAttribute("y2", y);
    grip.setAttribute("cy", y);
    label.setAttribute("y", y < 34 ? y + 30 : y - 12);
    label.textContent = `${(height / 100).toFixed(2)} m`;
    svg.setAttribute("aria-valuenow", String(height / 100));
    svg.setAttribute("aria-valuetext", `${(height / 100).toFixed(2)} m`);
    button.textContent = word("note_plane", { height: (height / 100).toFixed(2) });
  }

  function set(value) {
    height = Math.min(tall, Math.max(0, Math.round(value / STEP_CM) * STEP_CM));
    show();
  }

  function pulled(event) {
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    set(tall - point.y);
  }

  svg.addEventListener("pointerdown", (event) => {
    svg.setPointerCapture(event.pointerId);
    pulled(event);
  });
  svg.addEventListener("pointermove", (event) => {
    if (svg.hasPointerCapture(event.pointerId)) pulled(event);
  });
  svg.addEventListener("keydown", (event) => {
    const by = { ArrowUp: STEP_CM, ArrowDown: -STEP_CM, PageUp: 25, PageDown: -25 }[event.key];
    if (!by) return;
    event.preventDefault();
    set(height + by);
  });
  const step = (by, text, says) => element("button", { type: "button", class: "step", "aria-label": says, onclick: () => set(height + by) }, text);
  show();
  return element(
    "div", { class: "plane-box" }, svg,
    element("div", { class: "plane-acts" }, step(STEP_CM, "▲", word("higher")), button, step(-STEP_CM, "▼", word("lower"))),
  );
}

function doorway(door, wide, tall) {
  const left = cm(door.y) - cm(door.width) / 2;
  const top = tall - cm(door.sill) - cm(door.height);
  const middle = top + cm(door.height) / 2;
  const shape = { x: Math.max(0, left), y: top, width: Math.min(cm(door.width), wide), height: cm(door.height), class: "doorway" };
  const half = drawn("text", { x: Math.max(0, left) + 6, y: middle - 5, class: "half-text" });
  half.textContent = "½";
  return [
    drawn("rect", shape),
    drawn("line", { x1: Math.max(0, left), x2: Math.max(0, left) + Math.min(cm(door.width), wide), y1: middle, y2: middle, class: "half" }),
    half,
  ];
}
