/* A form that is on its way is not sent a second time. The controls are not disabled, so nothing typed is lost; the
   guard lifts when the page is shown again (back button) or after ten seconds (the connection failed). */
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
