// The button of a step for many says how many screens are ticked. Without this it says "all that are ticked".
"use strict";

(() => {
  const title = document.currentScript.dataset.one;
  const form = document.querySelector("form.step:has(input[name=screen])");
  if (!form || !title) return;
  const told = document.getElementById("ticked");

  function count() {
    const number = form.querySelectorAll("input[name=screen]:checked").length;
    for (const button of form.querySelectorAll("button.primary")) {
      button.textContent = (button.dataset.count || title).replace("{n}", number);
    }
    told.textContent = title.replace("{n}", number); // for whoever hears the page: the button is elsewhere
  }

  form.addEventListener("change", count);
  window.addEventListener("pageshow", count); // app.js may have filled the form in again
  count();
})();
