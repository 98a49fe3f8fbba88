// What was typed goes along when the light is switched, whether it is typed or tapped there.
"use strict";

(() => {
const DIGIT = /^(.+?)(?:\.r(\d))?\.(d1000|d100|d10|d1|d01)$/, SIZES = { d1000: 1000, d100: 100, d10: 10, d1: 1, d01: 0.1 };
const named = (form, name) => [...form.elements].filter((one) => one.name === name);
function typedIn(form) {
  const found = {};
  for (const [name, value] of new FormData(form)) {
    const [, whole, row, digit] = name.match(DIGIT) || [];
    if (name === "entry" || name.includes("secret") || value instanceof File) continue;
    const all = found[whole || name] = found[whole || name] || [];
    if (whole) all[row - 1 || 0] = String(Math.round(((+all[row - 1 || 0] || 0) + SIZES[digit] * value) * 10) / 10);
    else all.push(value);
  }
  return found;
}
function fill(form, name, values) {
  const same = named(form, name).filter((one) => one.type !== "hidden");
  const rows = values.map((_value, n) => named(form, `${name}.d1`)[0] && !n ? name : `${name}.r${n + 1}`);
  if (same.length) same.forEach((one, n) => {
    if (/radio|checkbox/.test(one.type)) one.checked = values.includes(one.value);
    else if (one.type !== "submit") one.value = values[n] || "";
    if (one.closest("details") && (one.checked || one.value) && !one.defaultValue) one.closest("details").open = true;
  });
  else if (named(form, `${rows[0]}.d1`)[0]) rows.forEach((row, n) => {
    for (const [digit, size] of Object.entries(SIZES)) for (const one of named(form, `${row}.${digit}`)) {
      one.checked = values[n] !== "" && +one.value === Math.floor(Math.round(values[n] * 10) / (size * 10)) % 10;
    }
  });
  else if (!named(form, name)[0]) for (const value of values.filter(Boolean)) form.append(Object.assign(document.createElement("input"), { type: "hidden", name, value }));
}
const forms = () => [...document.querySelectorAll("main form[method=post]")];
const [filledAt, ...before] = JSON.parse(sessionStorage.typed || "[]");
if (filledAt === location.pathname + location.search) forms().forEach((form, n) => {
  if (before[n] && before[n][0] === form.getAttribute("action")) for (const [name, values] of Object.entries(before[n][1])) fill(form, name, values);
});
delete sessionStorage.typed;
window.keepTyped = () => {
  const all = forms().map((form) => [form.getAttribute("action"), typedIn(form)]);
  sessionStorage.typed = JSON.stringify([location.pathname + location.search, ...all]);
};
})();
