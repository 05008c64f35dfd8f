// Comforts of the pages of tables: an answer is read at once, what is unfolded stays so, a pasted or dropped file goes.
"use strict";

(() => {
  const open = new Set();
  document.addEventListener("change", ({ target }) => {
    const form = target.closest("form.talk");
    if (form && target.matches("select, input")) form.requestSubmit(form.querySelector("button.again"));
  });
  document.addEventListener("htmx:beforeSwap", () => {
    open.clear();
    for (const one of document.querySelectorAll("form.talk details[open][id]")) open.add(one.id);
  });
  document.addEventListener("htmx:afterSettle", () => {
    if (!document.querySelector("form.talk")) return open.size && window.scrollTo(0, 0);
    for (const id of open) document.getElementById(id)?.setAttribute("open", "");
    return undefined;
  });
})();
