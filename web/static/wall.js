// The wall reads itself anew every half minute, and says so when nobody answers: what stands there is old then.
(() => {
  "use strict";
  const EVERY = 30000, OLD = 75000, PATIENCE = 20000;
  const told = document.querySelector(".old");
  let read = performance.now();
  const look = async () => {
    const stop = new AbortController();
    const patience = setTimeout(() => stop.abort(), PATIENCE);
    try {
      const answer = await fetch(location.href, { signal: stop.signal, cache: "no-store" });
      if (answer.status >= 500) throw new Error();
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const main = page.querySelector("main");
      if (!main) throw new Error();
      if ((page.body.dataset.mark || "") !== document.body.dataset.mark && answer.ok) { location.reload(); return; }
      document.querySelector("main").replaceWith(document.importNode(main, true));
      read = performance.now();
    } catch { /* said below */ }
    clearTimeout(patience);
    say();
    setTimeout(look, EVERY);
  };
  const say = () => {
    const age = performance.now() - read, old = age > OLD;
    document.body.classList.toggle("is-old", old);
    told.hidden = !old;
    if (!old) return;
    const at = document.querySelector("main").dataset.at || "?";
    const words = told.dataset.said.replace("{time}", at).replace("{n}", Math.round(age / 60000));
    if (told.textContent !== words) told.textContent = words;
  };
  setTimeout(look, EVERY);
  setInterval(say, 5000);
})();
