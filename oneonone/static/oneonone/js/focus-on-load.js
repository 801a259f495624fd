/* Set the focus when the page opens: to an error summary or an edit conflict, else to the element that the URL's
   fragment names, such as the topic of the last act. Browsers only scroll to it. */
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
