/* Make text fields as tall as their text in browsers without field-sizing. */
(() => {
  "use strict";
  if (CSS.supports("field-sizing", "content")) {
    return;
  }
  const grow = (area) => {
    area.style.blockSize = "auto";
    area.style.blockSize = `${area.scrollHeight + area.offsetHeight - area.clientHeight}px`;
  };
  document.querySelectorAll("textarea").forEach(grow);
  document.addEventListener("input", (event) => {
    if (event.target instanceof HTMLTextAreaElement) {
      grow(event.target);
    }
  });
})();
