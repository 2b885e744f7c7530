/* Forms: warn before entries are lost, add and remove rows, show the photograph that was chosen. */
(() => {
  "use strict";

  const changed = new Set();
  document.addEventListener("input", (event) => {
    const form = event.target.closest("form[data-unsaved]");
    if (form) changed.add(form);
  });
  document.addEventListener("submit", (event) => changed.delete(event.target));
  window.addEventListener("beforeunload", (event) => {
    if ([...changed].some((form) => form.isConnected)) event.preventDefault();
  });

  // A new row is the blank one with the next number; the form's own count says how many there are.
  const count = (rows) => rows.querySelector(`[name="${rows.dataset.rows}-TOTAL_FORMS"]`);
  const addRow = (rows) => {
    const blank = rows.querySelector("template[data-row-blank]");
    const total = count(rows);
    const made = document.createElement("div");
    made.innerHTML = blank.innerHTML.replaceAll("__prefix__", total.value);
    const row = made.firstElementChild;
    total.value = Number(total.value) + 1;
    rows.querySelector("[data-rows-list]").append(row);
    dress(row);
    const first = row.querySelector("input:not([type=hidden]), select, textarea");
    if (first) first.focus();
  };

  // The tick that asks the server to drop a row becomes a button that does so at once.
  const dress = (row) => {
    const tick = row.querySelector('input[name$="-DELETE"]');
    if (!tick) return;
    const field = tick.closest(".field");
    const button = document.createElement("button");
    button.type = "button";
    button.className = "button button--small";
    button.textContent = field.querySelector("span").textContent;
    button.addEventListener("click", () => { tick.checked = true; row.hidden = true; });
    field.hidden = true;
    field.after(button);
    if (tick.checked) row.hidden = true;
  };

  document.addEventListener("click", (event) => {
    const more = event.target.closest("[data-row-more]");
    if (!more) return;
    event.preventDefault();
    addRow(more.closest("[data-rows]"));
  });

  document.addEventListener("change", (event) => {
    const field = event.target.type === "file" && event.target.closest("[data-preview]");
    if (!field) return;
    field.querySelectorAll(".preview").forEach((old) => { URL.revokeObjectURL(old.src); old.remove(); });
    [...event.target.files].filter((file) => /^image\/(jpeg|png|webp)$/.test(file.type)).forEach((file) => {
      const image = document.createElement("img");
      image.className = "preview";
      image.alt = file.name;
      image.src = URL.createObjectURL(file);
      field.append(image);
    });
  });

  const ready = (root) => root.querySelectorAll("[data-row]").forEach(dress);
  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", () => ready(document));
  else ready(document);
})();
