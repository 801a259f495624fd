/* Move a list item by keys. Alt and an up or down arrow inside a [data-move-item] posts to "move/" below the page of
   the item's link, for one place earlier or later, with the hidden fields of #agenda-acts. After the page has
   loaded again the link has the focus, so that the item can be moved further. */
(() => {
  "use strict";
  const KEY = "moved-item";
  const PLACES = { ArrowUp: -1, ArrowDown: 1 };

  document.addEventListener("keydown", (event) => {
    const places = event.altKey && !event.ctrlKey && !event.metaKey && PLACES[event.key];
    const item = places && event.target.closest("[data-move-item]");
    if (!item || event.target.matches("textarea, select, input")) {
      return;
    }
    event.preventDefault();
    const items = [...item.parentElement.querySelectorAll("[data-move-item]")];
    if (!items[items.indexOf(item) + places]) {
      return;
    }
    sessionStorage.setItem(KEY, item.id);
    document.dispatchEvent(
      new CustomEvent("send-item", { detail: { item, act: "move/", name: "places", value: places } }),
    );
  });

  /* Used by drag-in-list.js too. It is a new form, so that the page is unchanged after the back button. */
  document.addEventListener("send-item", ({ detail }) => {
    const form = document.createElement("form");
    Object.assign(form, { method: "post", action: detail.item.querySelector("h3 a").href + detail.act, hidden: true });
    const own = document.querySelectorAll("#agenda-acts input[type=hidden]");
    const field = Object.assign(document.createElement("input"), { name: detail.name, value: String(detail.value) });
    form.append(...[...own].map((input) => input.cloneNode()), field);
    document.body.append(form);
    form.requestSubmit();
  });

  const remembered = sessionStorage.getItem(KEY);
  if (remembered) {
    sessionStorage.removeItem(KEY);
    // Later than the browser itself goes to what the address names.
    window.addEventListener("load", () => document.getElementById(remembered)?.querySelector("a")?.focus());
  }
})();
