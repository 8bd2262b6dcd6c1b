// Parts of a unit while it is inspected: a tap on the drawing opens the part in the list beside it,
// and a part with a result is marked on the drawing. The list works by itself.

const form = document.querySelector("form[data-looks]");
const spots = [...form.querySelectorAll("svg [data-part]")];
const parts = new Map([...form.querySelectorAll("details[data-look]")].map((each) => [each.dataset.look, each]));

function mark() {
  for (const [key, part] of parts) {
    const chosen = part.querySelector("input[type=radio]:checked");
    part.querySelector("[data-said]").textContent = chosen ? chosen.closest("label").textContent.trim() : "";
    for (const spot of spots.filter((each) => each.dataset.part === key)) {
      spot.classList.toggle("marked", Boolean(chosen));
      spot.setAttribute("aria-pressed", String(Boolean(chosen)));
    }
  }
}

function open(target) {
  const part = parts.get(target.closest("[data-part]")?.dataset.part);
  if (!part) return;
  part.open = true;
  part.scrollIntoView({ block: "start" });
  part.querySelector("input[type=radio]").focus({ preventScroll: true });
}

form.addEventListener("click", (event) => open(event.target));
form.addEventListener("keydown", (event) => {
  if ((event.key !== "Enter" && event.key !== " ") || !event.target.closest("svg [data-part]")) return;
  event.preventDefault();
  open(event.target);
});
form.addEventListener("change", mark);
mark();
