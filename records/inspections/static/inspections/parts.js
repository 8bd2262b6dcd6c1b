// Where a defect is: a tap on a part of the drawing chooses it in the list, and the other way round.

const drawings = document.querySelector("[data-parts]");
const list = drawings.closest("form").elements.part;
const spots = [...drawings.querySelectorAll("[data-part]")];

function mark() {
  for (const spot of spots) {
    const chosen = spot.dataset.part === list.value;
    spot.classList.toggle("marked", chosen);
    spot.setAttribute("aria-pressed", String(chosen));
  }
}

function choose(target) {
  const spot = target.closest("[data-part]");
  if (!spot) return;
  list.value = list.value === spot.dataset.part ? "" : spot.dataset.part;
  mark();
}

drawings.addEventListener("click", (event) => choose(event.target));
drawings.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" && event.key !== " ") return;
  event.preventDefault();
  choose(event.target);
});
list.addEventListener("change", mark);
mark();
