// The shell's own behaviour: the menu on a phone, and closing the working panel.

const places = document.querySelector(".places");
const toggle = document.querySelector(".menu-toggle");

toggle?.addEventListener("click", () => {
  const shut = places.classList.toggle("shut");
  toggle.setAttribute("aria-expanded", String(!shut));
});
if (toggle) places.classList.add("shut");

const closeWorking = () => document.querySelector("#working")?.replaceChildren();
document.addEventListener("click", (event) => {
  if (event.target.closest("[data-close-working]")) closeWorking();
});
document.addEventListener("keydown", (event) => {
  if (event.key === "Escape") closeWorking();
});

// A select that acts at once (ground, units) needs no button beside it.
document.addEventListener("change", (event) => {
  if (event.target.matches("select[data-submit]")) event.target.form.requestSubmit();
});
