/* A new form that asks for a time zone (data-zone-of-browser) begins with the one that the browser is in, where it is
   offered; else with the one that the server chose. What somebody chose meanwhile, or the browser put back, stays. */
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
