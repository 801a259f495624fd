/* Preset a time zone field (data-zone-of-browser) of a new form with the browser's time zone, if it is offered. A
   value that somebody has chosen, or that the browser restored, stays. */
(() => {
  "use strict";
  const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
  for (const select of document.querySelectorAll("select[data-zone-of-browser]")) {
    const offered = [...select.options].some((option) => option.value === zone);
    if (offered && select.selectedOptions[0]?.defaultSelected) {
      select.value = zone;
    }
  }
})();
