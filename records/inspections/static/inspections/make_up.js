// The form of a unit's make-up: of each kind of part show the rows in use and one more. What can
// be built is the server's business alone.

const form = document.querySelector("form[data-make-up]");

for (const section of form.querySelectorAll("[data-part-rows]")) {
  const rows = [...section.querySelectorAll("[data-part-row]")];
  const more = section.querySelector("[data-more]");
  const isEmpty = (row) =>
    [...row.querySelectorAll("select, input:not([type=hidden])")].every((cell) => !cell.value);
  const hasErrors = (row) => row.querySelector(".errors");
  const used = rows.findLastIndex((row) => !isEmpty(row) || hasErrors(row));

  rows.forEach((row, index) => {
    row.hidden = index > used + 1;
  });
  const offer = () => {
    more.hidden = rows.every((row) => !row.hidden);
  };
  more.addEventListener("click", () => {
    const next = rows.find((row) => row.hidden);
    if (!next) return;
    next.hidden = false;
    next.querySelector("input:not([type=hidden]), select").focus();
    offer();
  });
  offer();
}
