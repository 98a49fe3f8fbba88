// The result while typing. The page does the same without this: here it is fetched, and its result put in place.
"use strict";

(() => {
  const form = document.querySelector("form.calculator");
  const result = document.getElementById("result");
  if (!form || !result) return;
  let timer;
  let latest = 0;

  async function work() {
    const sent = [...new FormData(form)].filter(([, text]) => text !== "");
    if (!sent.some(([name]) => form.elements[name] && form.elements[name].type !== "hidden" && !name.endsWith(".unit"))) return;
    const address = `${form.getAttribute("action").split("#")[0]}?${new URLSearchParams(sent)}`;
    const mine = ++latest;
    let text;
    try {
      text = await (await fetch(address)).text();
    } catch {
      return; // no network: the button still tries
    }
    if (mine !== latest) return;
    const answer = new DOMParser().parseFromString(text, "text/html");
    const fresh = answer.getElementById("result");
    if (!fresh) return;
    result.replaceChildren(...fresh.childNodes);
    for (const old of form.querySelectorAll("[id$='-says']")) {
      const says = answer.getElementById(old.id);
      const box = form.elements[old.id.replace(/-says$/, "")];
      // a field that is still empty is not told off while others are being filled in
      const quiet = !says || (box && "value" in box && box.value === "" && box.type !== undefined);
      old.replaceChildren(...(quiet ? [] : says.childNodes));
      old.closest(".field")?.classList.toggle("faulty", old.childElementCount > 0);
      if (box && box.setAttribute) {
        if (old.childElementCount) box.setAttribute("aria-invalid", "true");
        else box.removeAttribute("aria-invalid");
      }
    }
    history.replaceState(null, "", address);
  }

  form.addEventListener("input", () => {
    clearTimeout(timer);
    timer = setTimeout(work, 250);
  });
})();
