/* What has to be read first takes the focus when the page opens: a summary of faults, both texts of a stale edit. */
(() => {
  "use strict";
  const first = document.querySelector("[data-focus-on-load]");
  if (first) {
    first.focus();
  }
})();
