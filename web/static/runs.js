// The set-up sheet on a phone: the head that was chosen starts at the top of the view. Without this it opens all the same.
"use strict";
document.addEventListener("change", (event) => {
  if (event.target.matches(".setup .pick") && matchMedia("(max-width: 63.99rem)").matches) {
    event.target.nextElementSibling.scrollIntoView({ block: "start" });
  }
});
