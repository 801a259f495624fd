/* Screen readers announce changes of a status region, not its initial text. So the messages of the last act
   (#messages) are inserted again shortly after the page has loaded. */
(() => {
  "use strict";
  const AFTER = 400;
  window.addEventListener("load", () => {
    setTimeout(() => {
      for (const message of document.querySelectorAll("#messages > p")) {
        message.replaceChildren(...[...message.childNodes].map((node) => node.cloneNode(true)));
      }
    }, AFTER);
  });
})();
