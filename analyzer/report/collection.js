// Shows only the instruments that fit every filter.
for (const form of document.querySelectorAll("form.filters")) {
  const rows = [...form.closest("section").querySelectorAll("tbody tr")];
  const shown = form.querySelector("output");
  const texts = rows.map((row) => row.cells[0].textContent.toLowerCase());
  const filter = () => {
    const text = form.elements.text.value.trim().toLowerCase();
    const chosen = [...form.querySelectorAll("select")].filter((select) => select.value !== "");
    let n = 0;
    rows.forEach((row, k) => {
      row.hidden = !texts[k].includes(text) || chosen.some((select) => row.dataset[select.name] !== select.value);
      n += !row.hidden;
    });
    shown.textContent = shown.dataset.shown.replace("{shown}", n).replace("{all}", rows.length);
  };
  form.hidden = false;
  form.addEventListener("input", filter);
  form.addEventListener("submit", (event) => event.preventDefault());
  filter();
}
