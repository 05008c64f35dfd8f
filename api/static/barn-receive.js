// Finds handed over by the saved page, in the part of the address that no browser sends. They are laid down for the
// barn's page, which asks before anything is kept; going there from here is a step within the desk, so that its strict
// cookie comes along, and what is laid down outlasts signing in.
"use strict";
try {
  localStorage.setItem("barn arrived", decodeURIComponent(location.hash.slice(1)));
  location.replace("/barn");
} catch {
  document.querySelector("main p").textContent =
    "This browser cannot take the finds over. Enter them on the page In the barn; they are still in the saved page.";
}
