// A timer beside a step. It goes by the time it was started at, so that a reload or a locked phone loses nothing of it.
"use strict";

(() => {
const line = document.querySelector(".timer"), words = JSON.parse(line.dataset.words), title = document.title;
const long = Number(line.dataset.s), key = `timer-${line.dataset.key}`;
const KEPT = 3600; // seconds after which one that nobody ended is forgotten
const said = document.createElement("span"), button = document.createElement("button");
let since = line.dataset.runs ? Date.now() : Number(localStorage[key]) || 0, told = false;
if (!line.dataset.runs && Date.now() - since > (long + KEPT) * 1000) since = 0;

const clock = (seconds) => `${Math.floor(seconds / 60)}:${String(Math.floor(seconds % 60)).padStart(2, "0")}`;

function show() {
  const gone = (Date.now() - since) / 1000, over = since && long && gone >= long;
  button.textContent = since ? words.again : words.start;
  said.textContent = !since ? "" : over ? words.over : words.runs.replace("{time}", clock(long ? Math.ceil(long - gone) : gone));
  document.title = since ? `${said.textContent} – ${title}` : title;
  said.setAttribute("role", over ? "alert" : "timer");
  if (over && !told && navigator.vibrate) navigator.vibrate(500);
  told = Boolean(over);
}

button.type = "button";
button.addEventListener("click", () => {
  since = since ? 0 : Date.now();
  localStorage[key] = since;
  show();
});
line.append(said, ...line.dataset.runs ? [] : [button]);
line.hidden = false;
show();
setInterval(show, 500);
})();
