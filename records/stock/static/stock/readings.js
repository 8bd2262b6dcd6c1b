// Mean, highest reading and the verdict follow while typing. Only a mirror: the server decides.

const box = document.querySelector("[data-readings]");
const field = box?.querySelector("textarea");
const show = (name, text) => {
  box.querySelector(`[data-${name}]`).textContent = text;
};

// A decimal comma is read; 1,234 is not, because it could mean either.
const isReading = (word) =>
  /^\d+([.,]\d+)?$/.test(word) && !/^[1-9]\d{0,2},\d{3}$/.test(word);

function follow() {
  const words = field.value.replace(/%/g, " ").split(/[;\s]+/).filter(Boolean);
  const strange = words.filter((word) => !isReading(word));
  const readings = words.filter(isReading).map((word) => Number(word.replace(",", ".")));
  const mean = readings.reduce((sum, each) => sum + each, 0) / readings.length;
  show("count", String(readings.length));
  show("mean", readings.length ? mean.toFixed(1) : "–");
  show("highest", readings.length ? Math.max(...readings).toFixed(1) : "–");
  show("strange", strange.length ? `${box.dataset.unreadable} ${strange.join(" ")}` : "");
  const limit = Number(box.dataset.limit);
  const enough = readings.length >= Number(box.dataset.least);
  show("verdict", enough && limit ? (mean <= limit ? box.dataset.within : box.dataset.over) : "");
}

field?.addEventListener("input", follow);
if (field) follow();
