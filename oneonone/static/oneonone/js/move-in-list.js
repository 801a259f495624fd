/* Moving an item of a list by keys: Alt and an up or down arrow anywhere in a [data-move-item] presses its button
   marked data-move="earlier" or "later". After the page has come back, the same button of the same item has the
   focus again, so that an item can be moved on. Items carry an id. */
(() => {
  "use strict";
  const KEY = "moved-item";
  const DIRECTIONS = { ArrowUp: "earlier", ArrowDown: "later" };

  document.addEventListener("keydown", (event) => {
    const direction = event.altKey && !event.ctrlKey && !event.metaKey && DIRECTIONS[event.key];
    const item = direction && event.target.closest("[data-move-item]");
    const button = item && item.querySelector(`[data-move="${direction}"]`);
    if (button && !button.disabled) {
      event.preventDefault();
      button.focus();
      button.click();
    }
  });

  document.addEventListener("click", (event) => {
    const button = event.target.closest("[data-move]");
    const item = button && button.closest("[data-move-item]");
    if (item && item.id) {
      sessionStorage.setItem(KEY, JSON.stringify([item.id, button.dataset.move]));
    }
  });

  const remembered = sessionStorage.getItem(KEY);
  if (remembered) {
    sessionStorage.removeItem(KEY);
    const [id, direction] = JSON.parse(remembered);
    const item = document.getElementById(id);
    const buttons = item ? [...item.querySelectorAll("[data-move]")].filter((button) => !button.disabled) : [];
    const target = buttons.find((button) => button.dataset.move === direction) || buttons[0];
    if (target) {
      target.focus();
    }
  }
})();
