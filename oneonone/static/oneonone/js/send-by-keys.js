/* Ctrl and Enter (or Command and Enter) in a text field of several lines send its form, as Enter does in one of one line. */
(() => {
  "use strict";
  document.addEventListener("keydown", (event) => {
    const form = event.target instanceof HTMLTextAreaElement && event.target.form;
    if (form && event.key === "Enter" && (event.ctrlKey || event.metaKey) && !event.isComposing) {
      event.preventDefault();
      form.requestSubmit();
    }
  });
})();
