/* Logging a quote: when a line is named, its scope list comes into its row; nothing said there is lost. */
(() => {
  "use strict";

  document.querySelectorAll(".scriptless").forEach((button) => { button.hidden = true; });

  const part = (row) => row.querySelector("[data-scope-part]");
  const said = (row) => [...part(row).querySelectorAll("input")].some((field) =>
    field.type === "radio" || field.type === "checkbox" ? field.checked : field.type !== "hidden" && field.value !== "");

  document.addEventListener("change", (event) => {
    const source = event.target.closest("[data-scope-of]");
    if (!source || !event.target.name.endsWith("-line")) return;
    const row = source.closest("[data-row]");
    if (said(row)) return;
    const currency = row.closest("form").querySelector("[name=currency]");
    const values = { prefix: source.dataset.scopeOf, currency: currency ? currency.value : "", [event.target.name]: event.target.value };
    htmx.ajax("GET", source.dataset.scopeFrom, { target: part(row), swap: "innerHTML", values });
  });
})();
