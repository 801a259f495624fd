/* Ctrl+Enter or Command+Enter in a textarea submits its form. */
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
