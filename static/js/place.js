/* A new build starts in the time zone of the one who starts it, as long as the list has it and nothing was chosen. */
(() => {
  "use strict";

  const list = document.querySelector("select[data-time-zone]");
  const here = Intl.DateTimeFormat().resolvedOptions().timeZone;
  if (!list || document.querySelector("[data-faults]")) return;
  if ([...list.options].some((option) => option.value === here)) list.value = here;
})();
