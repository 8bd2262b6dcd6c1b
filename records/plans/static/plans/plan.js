// The plan form: show only the lines in use, offer the chosen unit's positions, and take a tap on
// the drawing as the start of a line. What is allowed is the server's business alone.

const form = document.querySelector("form[data-plan]");
// Looked up anew each time: proposing boards puts other lines in their place.
const allLines = () => [...form.querySelectorAll("[data-line]")];
const moreButton = () => form.querySelector("[data-more]");
const unit = form.elements.unit;

const cells = (line) => [...line.querySelectorAll("select, input")];
const isEmpty = (line) => cells(line).every((cell) => !cell.value);

function showLines(extra = 0) {
  const lines = allLines();
  const used = lines.filter((line) => !isEmpty(line)).length;
  lines.forEach((line, index) => {
    line.hidden = isEmpty(line) && index >= Math.max(3, used + 1 + extra);
  });
  moreButton().hidden = lines.every((line) => !line.hidden);
}

function offerPositions() {
  const name = unit.selectedOptions[0]?.textContent;
  for (const group of form.querySelectorAll("[data-line] optgroup")) {
    group.hidden = group.disabled = Boolean(unit.value) && group.label !== name;
  }
}

function startLineAt(position) {
  const line = allLines().find(isEmpty);
  if (!line) return;
  line.hidden = false;
  const [place, product] = cells(line);
  place.value = position;
  product.focus();
  place.dispatchEvent(new Event("change", { bubbles: true }));
}

form.addEventListener("click", (event) => {
  const spot = event.target.closest("[data-position]");
  if (spot) startLineAt(spot.dataset.position);
});
form.addEventListener("keydown", (event) => {
  const spot = event.target.closest("[data-position]");
  if (spot && (event.key === "Enter" || event.key === " ")) {
    event.preventDefault();
    startLineAt(spot.dataset.position);
  }
});
form.addEventListener("click", (event) => {
  if (!event.target.closest("[data-more]")) return;
  const next = allLines().find((line) => line.hidden);
  if (next) next.hidden = false;
  moreButton().hidden = allLines().every((line) => !line.hidden);
});
form.addEventListener("htmx:afterSettle", (event) => {
  if (event.target.id !== "charge") return;
  offerPositions();
  showLines();
  form.dispatchEvent(new Event("change")); // the findings follow
});
unit.addEventListener("change", offerPositions);
offerPositions();
showLines();
