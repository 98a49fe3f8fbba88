// The button of a step for many says how many screens are ticked. Without this it says "all that are ticked".
"use strict";

(() => {
  const title = document.currentScript.dataset.one;
  const form = document.querySelector("form.step:has(input[name=screen])");
  if (!form || !title) return;

  function count() {
    const number = form.querySelectorAll("input[name=screen]:checked").length;
    for (const one of form.querySelectorAll("button.primary, #ticked")) { // #ticked: for whoever hears it
      one.textContent = (one.dataset.count || title).replace("{n}", number);
    }
  }

  form.addEventListener("change", count);
  window.addEventListener("pageshow", count); // app.js may have filled the form in again
  count();
})();
