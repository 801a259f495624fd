/* What an act has done is in the status region (#messages) before the page is read, and most screen readers only say
   what changes in it afterwards. So its words are put in once more, shortly after the page has come up. */
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
