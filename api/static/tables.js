// Comforts of the pages of tables: an answer is read at once, nobody loses his place or what he typed meanwhile, what is
// unfolded stays so, a pasted or dropped file goes.
"use strict";

(() => {
  const BUSY_MS = 500; // what takes longer says so, in the bar that stays in sight
  const open = new Set();
  let sent = new Map();
  let typed = [];
  let under = null;
  let pressed = null;
  let place = null;
  let busy = 0;
  const fields = (form) => [...form.elements].filter((one) => one.name && one.type !== "hidden");
  const says = (one) => (/^(radio|checkbox)$/.test(one.type) ? one.checked : one.value);
  const again = (form, { name, type, value }) =>
    fields(form).find((one) => one.name === name && (!/^(radio|submit)$/.test(type) || one.value === value));

  // Rows are typed one after another and go together, by their button or with the next answer.
  document.addEventListener("change", ({ target }) => {
    const form = target.closest("form.talk");
    if (form && target.matches("select, input") && !target.closest("#rows")) {
      form.requestSubmit(form.querySelector("button.again"));
    }
  });
  // A button that is pressed while an answer is on its way is pressed once more when it came; twice the same is once.
  document.addEventListener("submit", ({ target, submitter }) => {
    if (!target.matches("form.talk")) return;
    if (!under) under = submitter;
    else if (submitter !== under && submitter?.name) pressed = submitter;
  }, true);
  document.addEventListener("htmx:beforeRequest", ({ detail }) => {
    const form = detail.elt.closest("form.talk");
    if (!form) return;
    sent = new Map(fields(form).map((one) => [one, says(one)]));
    busy = window.setTimeout(() => {
      const said = document.createElement("p");
      Object.assign(said, { className: "small busy", role: "status", textContent: form.dataset.busy });
      form.querySelector(".bar").append(said);
    }, BUSY_MS);
  });
  document.addEventListener("htmx:afterRequest", () => {
    under = null;
    window.clearTimeout(busy);
    document.querySelector(".bar .busy")?.remove();
  });
  document.addEventListener("htmx:beforeSwap", () => {
    const form = document.querySelector("form.talk");
    open.clear();
    for (const one of document.querySelectorAll("form.talk details[open][id]")) open.add(one.id);
    typed = [...sent].filter(([one, was]) => says(one) !== was).map(([one]) => one);
    sent = new Map();
    const here = document.activeElement;
    const from = form ? [...form.elements].indexOf(here) : -1;
    place = from < 0 ? null : { top: here.getBoundingClientRect().top, fields: fields(form).filter((one) =>
      one === here || here.compareDocumentPosition(one) & Node.DOCUMENT_POSITION_FOLLOWING) };
  });
  document.addEventListener("htmx:afterSettle", () => {
    const form = document.querySelector("form.talk");
    if (!form) return open.size && window.scrollTo(0, 0);
    for (const id of open) document.getElementById(id)?.setAttribute("open", "");
    const kept = typed.map((one) => [one, again(form, one)]).filter(([, now]) => now);
    for (const [one, now] of kept) now[/^(radio|checkbox)$/.test(one.type) ? "checked" : "value"] = says(one);
    typed = [];
    const next = place?.fields.map((one) => again(form, one)).find((one) => one?.checkVisibility());
    if (next) {
      next.focus({ preventScroll: true });
      window.scrollBy({ top: next.getBoundingClientRect().top - place.top, behavior: "instant" });
    }
    place = null;
    const button = (pressed && again(form, pressed)) ||
      (kept.some(([, now]) => !now.closest("#rows")) && form.querySelector("button.again"));
    pressed = null;
    if (button) form.requestSubmit(button);
    return undefined;
  });
})();
