/* Move a list item with a pointer (mouse, pen or finger) by the grip that this script adds to each [data-move-item].
   Only the grip prevents scrolling by touch. While dragging, a line shows the new place and a status region says it.
   Dropping the item sends its number of places, as move-in-list.js does, so that the server asks first if the move
   has a cost. Dropping it over the clock of a rail sends a start instead. Escape, or dropping it on its own place,
   changes nothing. Keys and the item's page do the same without a pointer.

   Attributes of [data-move-list]: data-before ("Before “{title}”"), data-last ("At the end"), data-start ("Start at
   {time}"), and data-hint, which is said first. */
(() => {
  "use strict";
  const EDGE = 72; // pixels from the window's edge at which scrolling starts
  const STEP = 14; // pixels scrolled in one frame
  const BESIDE = 8; // pixels beside the clock that still count as the clock
  let drag = null;

  const itemsOf = (list) => [...list.querySelectorAll("[data-move-item]")];
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

  const say = (words) => {
    if (status().textContent !== words) {
      status().textContent = words;
    }
  };

  const clear = ({ items, list }) => {
    for (const item of items) {
      item.classList.remove("drop-before", "drop-after", "dragged");
    }
    list.querySelector(".drop-start")?.remove();
  };

  /* The slot and minute at the pointer if it is over the clock of the rail, else null. */
  const minuteAt = ({ list, x, y }) => {
    const clocks = [...list.querySelectorAll(".rail-clock")];
    if (!clocks.length) {
      return null;
    }
    const column = clocks[0].getBoundingClientRect();
    if (x < column.left - BESIDE || x > column.right + BESIDE) {
      return null;
    }
    const slots = clocks.map((clock) => clock.parentElement);
    const slot = slots.find((one) => y < one.getBoundingClientRect().bottom) ?? slots[slots.length - 1];
    const box = slot.getBoundingClientRect();
    const minutes = Number(getComputedStyle(slot).getPropertyValue("--minutes"));
    const into = Math.floor(((y - box.top) / box.height) * minutes);
    return { slot, minute: Math.max(0, Math.min(into, minutes - 1)) };
  };

  /* "10:20": the time so many minutes after the start of the slot. */
  const timeOf = ({ slot, minute }) => {
    const [, hours, minutes] = slot.querySelector(".rail-clock time").dateTime.match(/(\d\d):(\d\d)/);
    const at = Number(hours) * 60 + Number(minutes) + minute;
    return [Math.floor(at / 60) % 24, at % 60].map((part) => String(part).padStart(2, "0")).join(":");
  };

  const showStart = (at) => {
    const mark = document.createElement("span");
    mark.className = `drop-start at-${at.minute}`;
    mark.setAttribute("aria-hidden", "true");
    at.slot.append(mark);
    say((drag.list.dataset.start ?? "").replace("{time}", timeOf(at)));
  };

  /* The new index of the item: before the first item whose middle is below the pointer. */
  const placeAt = (others, y) => {
    const at = others.findIndex((item) => {
      const box = item.getBoundingClientRect();
      return y < box.top + box.height / 2;
    });
    return at < 0 ? others.length : at;
  };

  const show = () => {
    const { list, item, others, y } = drag;
    clear(drag);
    item.classList.add("dragged");
    drag.start = minuteAt(drag);
    if (drag.start) {
      showStart(drag.start);
      return;
    }
    drag.place = placeAt(others, y);
    if (drag.place === drag.from) {
      say(list.dataset.hint ?? "");
      return;
    }
    const before = others[drag.place];
    (before ?? others[others.length - 1]).classList.add(before ? "drop-before" : "drop-after");
    const words = before ? list.dataset.before : list.dataset.last;
    say((words ?? "").replace("{title}", before ? titleOf(before) : ""));
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

  const send = (item, act, name, value) =>
    document.dispatchEvent(new CustomEvent("send-item", { detail: { item, act, name, value } }));

  const end = (taken) => {
    const { item, from, place, start } = drag;
    clear(drag);
    document.documentElement.classList.remove("dragging");
    drag = null;
    say("");
    if (taken && start) {
      send(item, "start/", "minute", timeOf(start));
    } else if (taken && place !== from) {
      send(item, "move/", "places", place - from);
    }
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
    drag = { list, items, item, others, from, place: from, start: null, x: event.clientX, y: event.clientY };
    event.target.setPointerCapture(event.pointerId);
    document.documentElement.classList.add("dragging");
    show();
    requestAnimationFrame(scroll);
  };

  const move = (event) => {
    if (drag) {
      drag.x = event.clientX;
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
    const head = item.querySelector(".topic-head");
    if (head) {
      const grip = document.createElement("span");
      grip.className = "topic-grip";
      grip.setAttribute("aria-hidden", "true"); // the item's own page says and does the same
      grip.addEventListener("pointerdown", begin);
      grip.addEventListener("pointermove", move);
      grip.addEventListener("pointerup", () => drag && end(true));
      grip.addEventListener("pointercancel", () => drag && end(false));
      grip.addEventListener("lostpointercapture", () => drag && end(false));
      head.prepend(grip);
    }
  }
})();
