/* Open the acts of an item in place. A link [data-opens] leads to the item's page. When it is pressed, htmx fetches
   the part of that page into [data-part] of the nearest [data-opens-here]. Pressed again, or with Escape, it closes.
   Without script, with a modifier key, or if the request fails, the browser follows the link. */
(() => {
  "use strict";
  const holderOf = (node) => node.closest("[data-opens-here]");
  const partOf = (link) => holderOf(link)?.querySelector(":scope [data-part]");

  const close = (link) => {
    partOf(link).replaceChildren();
    holderOf(link).removeAttribute("data-open");
    link.setAttribute("aria-expanded", "false");
  };

  const open = async (link) => {
    const holder = holderOf(link);
    const part = partOf(link);
    holder.setAttribute("data-open", "");
    link.setAttribute("aria-expanded", "true");
    part.setAttribute("aria-busy", "true");
    try {
      await window.htmx.ajax("GET", link.getAttribute("href"), { target: part });
    } catch {
      /* No connection: follow the link below. */
    }
    part.removeAttribute("aria-busy");
    if (!part.childElementCount) {
      window.location.assign(link.href);
      return;
    }
    part.querySelector("textarea")?.focus();
  };

  document.addEventListener("click", (event) => {
    const link = event.target.closest("[data-opens]");
    const held = event.ctrlKey || event.metaKey || event.shiftKey || event.altKey || event.button !== 0;
    if (!link || held || !window.htmx || !partOf(link)) {
      return;
    }
    event.preventDefault();
    if (link.getAttribute("aria-expanded") === "true") {
      close(link);
    } else {
      open(link);
    }
  });

  document.addEventListener("keydown", (event) => {
    const holder = event.key === "Escape" && event.target.closest("[data-open]");
    const link = holder && holder.querySelector("[data-opens]");
    if (link) {
      close(link);
      link.focus();
    }
  });

  for (const link of document.querySelectorAll("[data-opens]")) {
    link.setAttribute("aria-expanded", "false");
  }
})();
