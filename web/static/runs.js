"use strict";
// What a count comes to in all, while it is typed or tapped.
function typed(form, name) {
  const box = form.querySelector(`input[name="${name}"]`);
  if (box) return Number.parseInt(box.value, 10) || 0;
  const places = { d1000: 1000, d100: 100, d10: 10, d1: 1 };
  return Object.entries(places).reduce((sum, [place, size]) => {
    const digit = form.querySelector(`input[name="${name}.${place}"]:checked`);
    return sum + (digit ? size * Number(digit.value) : 0);
  }, 0);
}
document.addEventListener("input", (event) => {
  const form = event.target.form;
  const sum = form && form.querySelector(".sum");
  if (!sum) return;
  const told = ["good", "misprinted"].reduce(
    (text, name) => text.replace(`{${name}}`, Number(sum.dataset[name]) + typed(form, name)), sum.dataset.said);
  sum.textContent = told;
});

// A bucket that is chosen is said: the line that asks for it goes.
document.addEventListener("change", (event) => {
  const line = document.querySelector(`[data-until="${CSS.escape(event.target.name || "")}"]`);
  if (line) line.hidden = Boolean(event.target.value);
});
