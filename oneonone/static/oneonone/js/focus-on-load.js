/* What has to be read first takes the focus when the page opens: a summary of faults, both texts of a stale edit. Else
   it is what the address names, such as the topic that an act was about: browsers only scroll there. */
(() => {
  "use strict";
  const first =
    document.querySelector("[data-focus-on-load]") || document.getElementById(location.hash.slice(1));
  if (first) {
    const closed = first.matches("input, select, textarea") && first.closest("details:not([open])");
    if (closed) {
      closed.open = true;
    }
    if (first.tabIndex < 0) {
      first.tabIndex = -1;
    }
    first.focus({ preventScroll: first.matches(":target") });
  }
})();
