/* When a disclosure with data-to-field is opened, the focus goes to its first field at once, behind its text. Waiting
   for the "toggle" event would lose the first letters typed. */
(() => {
  "use strict";
  const FIELDS = "textarea, select, input:not([type=hidden])";

  document.addEventListener("click", (event) => {
    const disclosure = event.target.closest("details[data-to-field] > summary")?.parentElement;
    const field = disclosure?.querySelector(FIELDS);
    if (field && !disclosure.open) {
      event.preventDefault();
      disclosure.open = true;
      field.focus();
      if (field instanceof HTMLTextAreaElement) {
        field.setSelectionRange(field.value.length, field.value.length);
      }
    }
  });
})();
