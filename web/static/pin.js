"use strict";
// The keys that a PIN is typed with, where who signs in has one.
document.addEventListener("change", ({ target }) => {
  if (target.name === "who") target.form.elements.secret.inputMode = target.dataset.keys || "";
});
