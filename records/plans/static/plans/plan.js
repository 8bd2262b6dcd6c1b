// The plan form: show only the lines in use, offer the chosen unit's positions, and take a tap on
// the drawing as the start of a line. What is allowed is the server's business alone.

const form = document.querySelector("form[data-plan]");
const lines = [...form.querySelectorAll("[data-line]")];
const more = form.querySelector("[data-more]");
const unit = form.elements.unit;

const cells = (line) => [...line.querySelectorAll("select, input")];
const isEmpty = (line) => cells(line).every((cell) => !cell.value);

function showLines(extra = 0) {
  const used = lines.filter((line) => !isEmpty(line)).length;
  lines.forEach((line, index) => {
    line.hidden = isEmpty(line) && index >= Math.max(3, used + 1 + extra);
  });
  more.hidden = lines.every((line) => !line.hidden);
}

function offerPositions() {
  const name = unit.selectedOptions[0]?.textContent;
  for (const group of form.querySelectorAll("[data-line] optgroup")) {
    group.hidden = group.disabled = Boolean(unit.value) && group.label !== name;
  }
}

function startLineAt(position) {
  const line = lines.find(isEmpty);
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
more.addEventListener("click", () => {
  const next = lines.find((line) => line.hidden);
  if (next) next.hidden = false;
  more.hidden = lines.every((line) => !line.hidden);
});
unit.addEventListener("change", offerPositions);
offerPositions();
showLines();
