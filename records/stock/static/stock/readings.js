// The mean and the highest reading follow while typing. Only a mirror: the server decides.

const box = document.querySelector("[data-readings]");
const field = box?.querySelector("textarea");

function follow() {
  const readings = field.value
    .replace(/%/g, " ")
    .split(/[;\s]+/)
    .filter(Boolean)
    .map((word) => Number(word.replace(",", ".")))
    .filter(Number.isFinite);
  const mean = readings.reduce((sum, each) => sum + each, 0) / readings.length;
  box.querySelector("[data-count]").textContent = String(readings.length);
  box.querySelector("[data-mean]").textContent = readings.length ? mean.toFixed(1) : "–";
  box.querySelector("[data-highest]").textContent = readings.length
    ? Math.max(...readings).toFixed(1)
    : "–";
}

field?.addEventListener("input", follow);
if (field) follow();
