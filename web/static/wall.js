// The wall reads itself anew every half minute, and says so when nobody answers: what stands there is old then.
(() => {
  const EVERY = 30000, OLD = 75000, PATIENCE = 20000;
  const told = document.querySelector(".old");
  let read = performance.now();
  const look = async () => {
    try {
      const answer = await fetch(location.href, { signal: AbortSignal.timeout(PATIENCE), cache: "no-store" });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const main = page.querySelector("main");
      if (answer.status < 500 && main) {
        if (answer.ok && page.body.dataset.mark !== document.body.dataset.mark) location.reload();
        document.querySelector("main").replaceWith(main);
        read = performance.now();
      }
    } catch { /* said below */ }
    say();
    setTimeout(look, EVERY);
  };
  const say = () => {
    const age = performance.now() - read, old = age > OLD;
    document.body.classList.toggle("is-old", old);
    told.hidden = !old;
    if (!old) return;
    const at = document.querySelector("main").dataset.at;
    told.textContent = told.dataset.said.replace("{time}", at).replace("{n}", Math.round(age / 60000));
  };
  setTimeout(look, EVERY);
  setInterval(say, 5000);
})();
