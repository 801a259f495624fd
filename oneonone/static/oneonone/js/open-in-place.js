/* A disclosure that holds a [data-open-in-place] with a link to a page of its own: when it is opened, the part of that
   page that belongs here takes the place of what is in it. Where that fails the link stays, and leads to the page. */
(() => {
  "use strict";

  const fill = async (holder) => {
    const link = holder.querySelector("[data-open-in-place-link]");
    if (!link || holder.hasAttribute("aria-busy")) {
      return;
    }
    holder.setAttribute("aria-busy", "true");
    try {
      const answer = await fetch(link.href, { headers: { "HX-Request": "true" }, credentials: "same-origin" });
      const elsewhere = answer.headers.get("HX-Redirect");
      if (elsewhere) {
        window.location.assign(elsewhere);
      } else if (answer.ok && !answer.redirected) {
        const part = new DOMParser().parseFromString(await answer.text(), "text/html");
        holder.replaceChildren(...part.body.childNodes);
      }
    } catch {
      /* No connection: the link is still there. */
    } finally {
      holder.removeAttribute("aria-busy");
    }
  };

  /* "toggle" does not bubble. */
  document.addEventListener(
    "toggle",
    (event) => {
      const holder = event.target.open && event.target.querySelector("[data-open-in-place]");
      if (holder) {
        fill(holder);
      }
    },
    true,
  );
})();
