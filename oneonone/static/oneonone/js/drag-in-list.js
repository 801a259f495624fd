/* Moving an item of a list with a pointer: mouse, pen or finger, by the grip that this script puts into every
   [data-move-item] that has a button to move it. Only the grip keeps a finger from scrolling. While it is dragged the
   place it would have is drawn as a line and said in a status region; letting go there presses the item's own form
   with so many places, so that what a move costs is asked about as for any other. Escape, or letting go where it was,
   leaves it. Keys and buttons do the same without a pointer: see move-in-list.js.

   [data-move-list] may carry data-before ("Before “{title}”") and data-last ("At the end"). */
(() => {
  "use strict";
  const EDGE = 72; // pixels from the edge of the window at which it scrolls
  const STEP = 14; // pixels it scrolls by, a frame
  let drag = null;

  const buttonOf = (item) => item.querySelector("[data-move]");
  const itemsOf = (list) => [...list.querySelectorAll("[data-move-item]")].filter(buttonOf);
  const titleOf = (item) => item.querySelector("h3")?.textContent.trim() ?? "";

  const status = () => {
    let region = document.getElementById("drag-status");
    if (!region) {
      region = document.createElement("p");
      region.id = "drag-status";
      region.className = "drag-status";
      region.setAttribute("role", "status");
      document.body.append(region);
    }
    return region;
  };

  const clear = (items) => {
    for (const item of items) {
      item.classList.remove("drop-before", "drop-after", "dragged");
    }
  };

  /* The index the item would have among the others: before the first one whose middle lies below the pointer. */
  const placeAt = (others, y) => {
    const at = others.findIndex((item) => {
      const box = item.getBoundingClientRect();
      return y < box.top + box.height / 2;
    });
    return at < 0 ? others.length : at;
  };

  const show = () => {
    const { list, items, item, others, y } = drag;
    clear(items);
    item.classList.add("dragged");
    drag.place = placeAt(others, y);
    if (drag.place === drag.from) {
      status().textContent = "";
      return;
    }
    const before = others[drag.place];
    (before ?? others[others.length - 1]).classList.add(before ? "drop-before" : "drop-after");
    const words = before ? list.dataset.before : list.dataset.last;
    const said = (words ?? "").replace("{title}", before ? titleOf(before) : "");
    if (status().textContent !== said) {
      status().textContent = said;
    }
  };

  const scroll = () => {
    if (!drag) {
      return;
    }
    const by = drag.y < EDGE ? -STEP : drag.y > window.innerHeight - EDGE ? STEP : 0;
    if (by) {
      window.scrollBy({ top: by, behavior: "instant" });
      show();
    }
    requestAnimationFrame(scroll);
  };

  const end = (taken) => {
    const { items, item, from, place } = drag;
    clear(items);
    document.documentElement.classList.remove("dragging");
    drag = null;
    status().textContent = "";
    if (!taken || place === from) {
      return;
    }
    const form = buttonOf(item).form;
    form.elements.places.value = String(place - from);
    form.requestSubmit(buttonOf(item));
  };

  const begin = (event) => {
    const item = event.target.closest("[data-move-item]");
    const list = item.closest("[data-move-list]") ?? item.parentElement;
    const items = itemsOf(list);
    if (event.button !== 0 || items.length < 2) {
      return;
    }
    event.preventDefault();
    const others = items.filter((other) => other !== item);
    const from = items.indexOf(item);
    drag = { list, items, item, others, from, place: from, y: event.clientY };
    event.target.setPointerCapture(event.pointerId);
    document.documentElement.classList.add("dragging");
    show();
    requestAnimationFrame(scroll);
  };

  const move = (event) => {
    if (drag) {
      drag.y = event.clientY;
      show();
    }
  };

  document.addEventListener(
    "keydown",
    (event) => {
      if (drag && event.key === "Escape") {
        event.preventDefault();
        event.stopPropagation();
        end(false);
      }
    },
    true,
  );

  for (const item of document.querySelectorAll("[data-move-item]")) {
    const head = buttonOf(item) && item.querySelector(".topic-head");
    if (head) {
      const grip = document.createElement("span");
      grip.className = "topic-grip";
      grip.setAttribute("aria-hidden", "true"); // the buttons beside it say and do the same
      grip.addEventListener("pointerdown", begin);
      grip.addEventListener("pointermove", move);
      grip.addEventListener("pointerup", () => drag && end(true));
      grip.addEventListener("pointercancel", () => drag && end(false));
      grip.addEventListener("lostpointercapture", () => drag && end(false));
      head.prepend(grip);
    }
  }
})();
