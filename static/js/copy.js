/* A button that copies the text of an element; without a clipboard it stays hidden and the text is copied by hand. */
(() => {
  "use strict";

  if (!navigator.clipboard) return;
  document.querySelectorAll("[data-copy]").forEach((button) => {
    button.hidden = false;
    button.addEventListener("click", async () => {
      await navigator.clipboard.writeText(document.getElementById(button.dataset.copy).textContent.trim());
      button.textContent = button.dataset.copied;
    });
  });
})();
