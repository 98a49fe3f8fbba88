// Only improves pages that work without it.
"use strict";

// A second tap sends nothing: the form is marked until the page is shown again.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "1";
  keep(form);
});
window.addEventListener("pageshow", () => {
  document.querySelectorAll("form[data-sent]").forEach((form) => delete form.dataset.sent);
});

// A form whose sending failed is filled in again when the person comes back to it, with the entry's id it had, so that an
// entry that did get through is not made twice. Secrets are never kept.
const KEPT = "form sent last";

function keep(form) {
  if (form.method !== "post" || !form.elements.entry) return;
  const fields = [...new FormData(form)].filter(([name, value]) => typeof value === "string" && !name.includes("secret"));
  try {
    sessionStorage.setItem(KEPT, JSON.stringify({ action: form.getAttribute("action"), fields }));
  } catch { /* storage full or forbidden: nothing is lost that was there before */ }
}

function fillAgain() {
  const kept = JSON.parse(sessionStorage.getItem(KEPT) || "null");
  if (!kept) return;
  const [entry] = performance.getEntriesByType("navigation");
  if (!entry || (entry.type !== "back_forward" && entry.type !== "reload")) {
    sessionStorage.removeItem(KEPT);
    return;
  }
  const form = [...document.forms].find((one) => one.elements.entry && one.getAttribute("action") === kept.action);
  if (!form) return;
  const left = kept.fields.slice();
  for (const field of form.elements) {
    if (!field.name || field.name.includes("secret")) continue;
    const tick = field.type === "radio" || field.type === "checkbox";
    const at = left.findIndex(([name, value]) => name === field.name && (!tick || value === field.value));
    if (tick) field.checked = at >= 0;
    else if (at >= 0) field.value = left[at][1];
    if (at >= 0) left.splice(at, 1);
  }
}
fillAgain();
