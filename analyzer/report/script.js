"use strict";
// Sorts a table by the number in data-value, not by its text: up, down, then the order of the harp again.
for (const table of document.querySelectorAll("table[data-sortable]")) {
  const body = table.tBodies[0];
  const layout = [...body.rows];
  const live = table.closest("section").querySelector("[aria-live]");
  const heads = [...table.tHead.rows[0].cells].filter((head) => head.hasAttribute("data-sort"));
  for (const head of heads) {
    const name = head.textContent;
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = name;
    head.replaceChildren(button);
    button.addEventListener("click", () => {
      const now = head.getAttribute("aria-sort");
      const next = now === "ascending" ? "descending" : now === "descending" ? null : "ascending";
      for (const other of heads) other.removeAttribute("aria-sort");
      if (next) head.setAttribute("aria-sort", next);
      body.append(...(next ? sorted(layout, head.cellIndex, next === "ascending" ? 1 : -1) : layout));
      live.textContent =
        name + ": " + (next ? (next === "ascending" ? table.dataset.up : table.dataset.down) : table.dataset.layout);
    });
  }
}
// Rows without a value come last either way.
function sorted(rows, column, sign) {
  const value = (row) => row.cells[column].dataset.value;
  return [...rows].sort(
    (a, b) => (value(a) === "") - (value(b) === "") || sign * (Number(value(a)) - Number(value(b))),
  );
}
