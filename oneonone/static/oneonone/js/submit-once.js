/* Do not submit a form a second time while it is being sent. Controls are not disabled, so that no input is lost. The
   guard ends when the page is shown again (back button) or after ten seconds (the connection failed). */
(() => {
  "use strict";
  const WAIT = 10000;
  const sent = new Map();

  const release = (form) => {
    clearTimeout(sent.get(form));
    sent.delete(form);
    form.removeAttribute("aria-busy");
  };

  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (event.defaultPrevented || form.method !== "post" || form.hasAttribute("data-submit-often")) {
      return;
    }
    if (sent.has(form)) {
      event.preventDefault();
      return;
    }
    form.setAttribute("aria-busy", "true");
    sent.set(form, setTimeout(release, WAIT, form));
  });

  window.addEventListener("pageshow", () => {
    for (const form of [...sent.keys()]) {
      release(form);
    }
  });
})();
