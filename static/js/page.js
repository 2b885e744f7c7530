/* What every page can do: open rows once and hide them again, remember what was open, print, close a menu. */
(() => {
  "use strict";

  const opened = (opener) => document.getElementById(opener.getAttribute("aria-controls"));

  // A row that is already there is shown and hidden; only the first opening asks the server.
  document.addEventListener("click", (event) => {
    const opener = event.target.closest("[data-opener]");
    const part = opener && opened(opener);
    if (!part || !part.hasChildNodes() || !part.querySelector("tr, div, li")) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    part.hidden = opener.getAttribute("aria-expanded") === "true";
    opener.setAttribute("aria-expanded", String(!part.hidden));
  }, true);

  document.addEventListener("htmx:afterSettle", (event) => {
    const opener = event.detail.requestConfig && event.detail.requestConfig.elt;
    if (opener && opener.matches && opener.matches("[data-opener]")) opener.setAttribute("aria-expanded", "true");
  });

  const key = (details) => `open:${location.pathname}:${details.dataset.keepOpen}`;
  const remembered = (root) => root.querySelectorAll("details[data-keep-open]").forEach((details) => {
    const kept = sessionStorage.getItem(key(details));
    if (kept !== null) details.open = kept === "yes";
    details.addEventListener("toggle", () => sessionStorage.setItem(key(details), details.open ? "yes" : "no"));
  });

  document.addEventListener("click", (event) => {
    if (event.target.closest("[data-print]")) window.print();
    document.querySelectorAll("details[data-closes][open]").forEach((menu) => {
      if (!menu.contains(event.target)) menu.open = false;
    });
  });

  document.addEventListener("keydown", (event) => {
    const menu = event.key === "Escape" && document.querySelector("details[data-closes][open]");
    if (!menu) return;
    menu.open = false;
    menu.querySelector("summary").focus();
  });

  const ready = () => {
    remembered(document);
    const faults = document.querySelector("[data-faults]");
    if (faults) faults.focus();
  };
  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", ready);
  else ready();
})();
