// Keys of the grid: Enter goes down its column, a pasted column fills it. The server judges.

const grid = document.querySelector("[data-grid]");

const column = (cell) => [...grid.querySelectorAll(`[data-down="${cell.dataset.down}"]`)];

grid?.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || !event.target.dataset.down) return;
  event.preventDefault();
  const cells = column(event.target);
  const next = cells[cells.indexOf(event.target) + 1];
  (next ?? grid.querySelector("button.main")).focus();
  next?.select();
});

grid?.addEventListener("paste", (event) => {
  const words = event.clipboardData.getData("text").trim().split(/[;\s]+/);
  if (!event.target.dataset.down || words.length < 2) return;
  event.preventDefault();
  const cells = column(event.target);
  const from = cells.indexOf(event.target);
  words.slice(0, cells.length - from).forEach((word, place) => {
    cells[from + place].value = word;
  });
  event.target.dispatchEvent(new Event("input", { bubbles: true }));
});
