/* The line for the logbook: "l" leads to it, the arrow keys change the kind, and what was typed outlives a lost
   connection or a session that has ended. It is kept in this tab only, for the person who typed it, and goes on
   saving, on signing out, when somebody else signs in, or after an hour. */
(() => {
  "use strict";
  const KEY = "logbook-draft";
  const HOUR = 60 * 60 * 1000;
  const form = document.querySelector("form[data-draft-owner]");
  if (!form) {
    return;
  }
  const owner = form.dataset.draftOwner;
  const line = form.elements.namedItem("line");

  const read = () => {
    try {
      return JSON.parse(sessionStorage.getItem(KEY));
    } catch {
      return null;
    }
  };
  const forget = () => {
    try {
      sessionStorage.removeItem(KEY);
    } catch {
      /* Storage is switched off: there is nothing to forget. */
    }
  };
  const keep = () => {
    try {
      if (line.value.trim()) {
        const kind = form.elements.namedItem("kind").value;
        const when = form.elements.namedItem("event_on").value;
        sessionStorage.setItem(KEY, JSON.stringify({ owner, line: line.value, kind, when, at: Date.now() }));
      } else {
        forget();
      }
    } catch {
      /* Storage is switched off or full: the line is only on the page. */
    }
  };

  const draft = read();
  if (draft && (draft.owner !== owner || Date.now() - draft.at > HOUR || document.querySelector("[data-draft-saved]"))) {
    forget();
  } else if (draft && !line.value) {
    line.value = draft.line;
    form.elements.namedItem("kind").value = draft.kind;
    form.elements.namedItem("event_on").value = draft.when;
  }
  form.addEventListener("input", keep);
  form.addEventListener("change", keep);
  setTimeout(forget, HOUR);
  for (const out of document.querySelectorAll("form[data-sign-out]")) {
    out.addEventListener("submit", forget);
  }
})();
(() => {
  "use strict";
  document.addEventListener("keydown", (event) => {
    if (event.key !== "ArrowDown" && event.key !== "ArrowUp") {
      return;
    }
    const form = event.target.form;
    if (!form || event.target.name !== "line" || !form.matches("[data-capture], [data-kinds-by-arrow]")) {
      return;
    }
    const kinds = [...form.querySelectorAll("input[name='kind']")];
    const step = event.key === "ArrowDown" ? 1 : -1;
    const next = kinds[(kinds.findIndex((kind) => kind.checked) + step + kinds.length) % kinds.length];
    next.checked = true;
    next.dispatchEvent(new Event("change", { bubbles: true }));
    event.preventDefault();
  });
})();
