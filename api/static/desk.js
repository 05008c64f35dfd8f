// Small comforts over pages that work without any of this: live charts, meanings of levels, dropped files, progress,
// and forms that stay as they were typed when no answer comes.
"use strict";

const VEGA = ["vega-6.4.0", "vega-lite-6.4.3", "vega-embed-7.3.0"];
let loading = null;

function load(name) {
  return new Promise((done, failed) => {
    const script = document.createElement("script");
    script.src = `/static/vendor/${name}.min.js`;
    script.onload = done;
    script.onerror = failed;
    document.head.append(script);
  });
}

function vega() {
  loading = loading || VEGA.reduce((before, name) => before.then(() => load(name)), Promise.resolve());
  return loading;
}

// A chart turns live when a pointer or the focus first reaches it, so that a page at rest stays light.
async function enliven(figure) {
  if (figure.dataset.live) return;
  figure.dataset.live = "yes";
  const drawn = figure.querySelector(".drawn");
  const image = drawn.querySelector("img");
  const upTo = (width) => window.matchMedia(`(max-width: ${width}px)`).matches;
  const width = upTo(600) ? "narrow" : upTo(900) ? "middle" : "wide";
  try {
    const [answer] = await Promise.all([fetch(`${figure.dataset.chart}/${width}.json`), vega()]);
    if (!answer.ok) return;
    const place = document.createElement("div");
    place.className = "live";
    await window.vegaEmbed(place, await answer.json(), {
      ast: true, actions: false, renderer: "svg", defaultStyle: false, tooltip: { disableDefaultStyle: true },
    });
    const svg = place.querySelector("svg");
    svg.setAttribute("role", "img");
    svg.setAttribute("aria-label", image.alt);
    drawn.replaceChildren(place);
  } catch (error) {
    delete figure.dataset.live;
  }
}

function begin(root) {
  for (const figure of root.querySelectorAll("figure[data-chart]")) {
    figure.querySelector(".drawn").addEventListener("pointerenter", () => enliven(figure), { once: true });
  }
  for (const select of root.querySelectorAll("select[aria-describedby]")) {
    const place = document.getElementById(select.getAttribute("aria-describedby"));
    const usual = place ? place.textContent : "";
    select.addEventListener("change", () => {
      if (place) place.textContent = select.selectedOptions[0].dataset.meaning || usual;
    });
  }
  for (const input of root.querySelectorAll("input[data-drop]")) {
    const form = input.form;
    for (const kind of ["dragenter", "dragover"]) {
      form.addEventListener(kind, (event) => { event.preventDefault(); form.classList.add("over"); });
    }
    form.addEventListener("dragleave", () => form.classList.remove("over"));
    form.addEventListener("drop", (event) => {
      event.preventDefault();
      form.classList.remove("over");
      if (event.dataTransfer.files.length) input.files = event.dataTransfer.files;
    });
  }
  const progress = root.querySelector("[data-reload]");
  if (progress) window.setTimeout(() => window.location.reload(), Number(progress.dataset.reload));
}

// What the server refuses beside a field it sends as a whole page; every other failure is said above the form.
function say(form, text) {
  const part = document.getElementById("refusal-part").content.firstElementChild.cloneNode(true);
  part.textContent = text;
  const before = form.querySelector(":scope > #refusal");
  if (before) before.remove();
  form.prepend(part);
  part.focus();
}

function words(answer) {
  try {
    return JSON.parse(answer).detail;
  } catch (error) {
    const lead = new DOMParser().parseFromString(answer, "text/html").querySelector("main .lead");
    return lead ? lead.textContent : "The desk answered with an error.";
  }
}

// Until its answer is there a form cannot go again, and after half a second it says that it was sent.
const PATIENCE = 500;

function sent(form) {
  const said = document.createElement("p");
  said.className = "small";
  said.setAttribute("role", "status");
  form.setAttribute("aria-busy", "true");
  form.append(said);
  window.setTimeout(() => { said.textContent = "Sent. The desk is at work on it."; }, PATIENCE);
}

function answered(form) {
  form.removeAttribute("aria-busy");
  form.querySelector(":scope > [role=status]")?.remove();
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (event.defaultPrevented || form.method !== "post") return; // htmx sends it, or it only asks
  if (form.ariaBusy) event.preventDefault();
  else sent(form);
});
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[aria-busy]")) answered(form);
});
document.addEventListener("htmx:afterRequest", ({ detail }) => { if (detail.elt.matches("form")) answered(detail.elt); });

document.addEventListener("htmx:beforeSwap", ({ detail }) => {
  if (detail.xhr.getResponseHeader("X-Form-Refused")) Object.assign(detail, { shouldSwap: true, isError: false });
});
document.addEventListener("htmx:beforeRequest", ({ detail }) => {
  const said = detail.elt.closest("form")?.querySelector(":scope > #refusal");
  if (said) said.remove();
  if (detail.elt.matches("form[method=post]")) sent(detail.elt);
});
const failures = {
  "htmx:responseError": ({ xhr }) => `${words(xhr.response)} What you typed still stands here.`,
  "htmx:sendError": () => "No answer came: the desk is not running, or the connection to it is lost. What you typed " +
    "still stands here; whether it was written is not known. Start the desk again, look, and send it once more.",
  "htmx:timeout": () => "The desk has not answered for two minutes. What you typed still stands here; whether it was " +
    "written is not known. Look in another window before you send it once more.",
};
for (const [kind, text] of Object.entries(failures)) {
  document.addEventListener(kind, ({ detail }) => {
    const form = detail.elt.closest("form");
    if (form) say(form, text(detail));
  });
}
document.addEventListener("htmx:load", ({ detail }) => { if (detail.elt !== document.body) begin(detail.elt); });

begin(document);
