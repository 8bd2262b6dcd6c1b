// One lot at a time: the parts of lots not used yet are folded away until asked for. Without this
// script they all stand on the page.

const unused = [...document.querySelectorAll("[data-lot][data-unused]")];
const another = document.querySelector("[data-another]");

for (const lot of unused) lot.hidden = true;
if (another) another.hidden = unused.length === 0;

another?.addEventListener("click", () => {
  const lot = unused.shift();
  lot.hidden = false;
  lot.querySelector("select").focus();
  another.hidden = unused.length === 0;
});
