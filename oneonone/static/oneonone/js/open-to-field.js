/* A disclosure that is opened in order to write (data-to-field): the focus goes to its first field at once, so that what
   is typed next is not lost, and goes on behind what is there. Waiting for "toggle" would lose the first letters. */
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
