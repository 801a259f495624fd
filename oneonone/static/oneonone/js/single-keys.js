/* Single-key shortcuts, for whoever has not switched them off (WCAG 2.1.4): "l" leads to the line for the logbook,
   "?" to the list of keys. They do nothing while something is typed or a modifier is held. */
(() => {
  "use strict";
  const form = document.querySelector("form[data-single-keys]");
  if (!form) {
    return;
  }
  const typing = (target) => target.closest("input, textarea, select, [contenteditable]");

  document.addEventListener("keydown", (event) => {
    if (event.defaultPrevented || event.ctrlKey || event.altKey || event.metaKey || typing(event.target)) {
      return;
    }
    if (event.key === "l" || event.key === "L") {
      const link = document.querySelector("[data-capture-link]");
      if (link && link.offsetParent !== null) {
        link.click();
      } else {
        form.elements.namedItem("line").focus();
      }
      event.preventDefault();
    } else if (event.key === "?") {
      location.assign(form.dataset.keysPage);
    }
  });
})();
