// Only improves pages that work without it. A form is sent once, however often its button is tapped; one that makes an
// entry is kept on the phone until the shop's computer has answered, and sent again, in order, by the id that it has.
// Plain HTTP on a shop's network: no service worker, no Web Locks, no crypto.randomUUID.
"use strict";

(() => {
const box = document.getElementById("unsent");
const words = box ? JSON.parse(box.dataset.words) : {};
const me = document.body.dataset.person || "";
const SOON = 3, SELDOM = 30, LATE = 20; // seconds: pauses between two tries; from when on an entry says how late it comes
let pause = SOON, timer = 0, sent = 0, over = false;

// -- what is kept on this phone: {id, person, name, to, page, what, acted, fields, asked}

const opened = new Promise((done, failed) => {
  const asked = indexedDB.open("unsent", 1);
  asked.onupgradeneeded = () => asked.result.createObjectStore("entries", { keyPath: "id" });
  asked.onsuccess = () => done(asked.result);
  asked.onerror = () => failed(asked.error);
});
opened.catch(() => {}); // a browser that keeps nothing sends forms as it always did

async function kept(mode, act) {
  const work = (await opened).transaction("entries", mode, { durability: "strict" });
  const asked = act(work.objectStore("entries"));
  return new Promise((done, failed) => {
    work.oncomplete = () => done(asked.result);
    work.onabort = () => failed(work.error);
  });
}
const all = async () => (await kept("readonly", (entries) => entries.getAll())).sort((one, other) => one.acted - other.acted);
const keep = (one) => kept("readwrite", (entries) => entries.put(one));
const forget = (id) => kept("readwrite", (entries) => entries.delete(id));

function newId() {
  const random = [...crypto.getRandomValues(new Uint8Array(10))];
  return `${me}-${random.map((byte) => byte.toString(16).padStart(2, "0")).join("")}`;
}

// -- sending

// What the shop's computer answers: sent (`next`: where it leads), away (another or nobody holds the phone), later (it
// cannot save now), page (something for a person to read). Throws where no answer comes.
async function post(one, secrets = []) {
  const fields = [...one.fields, ...secrets];
  const late = Math.round((Date.now() - one.acted) / 1000);
  if (late >= LATE) fields.push(["late", late]); // where no time was typed, it follows from this
  const files = fields.some(([, value]) => value instanceof File);
  const body = files ? new FormData() : new URLSearchParams();
  for (const [name, value] of fields) body.append(name, value);
  const stop = new AbortController();
  const limit = setTimeout(() => stop.abort(), files ? 60_000 : 12_000);
  try {
    const answer = await fetch(one.to, {
      method: "POST", body, headers: { "Sent-By": "script" }, referrer: one.page, signal: stop.signal, cache: "no-store",
    });
    const next = answer.headers.get("Next"), why = answer.headers.get("Not-Logged") || "";
    if (next) return { how: "sent", next };
    const html = await answer.text();
    const how = [502, 503, 504].includes(answer.status) ? "later" : why === "signed-out" || why === "another" ? "away" : "page";
    return { how, html, why, ok: answer.ok };
  } finally {
    clearTimeout(limit);
  }
}

function told(html) {
  const page = new DOMParser().parseFromString(html, "text/html");
  const found = ["[role=alert]", ".fault", ".faults li", "h1"].map((one) => page.querySelector(`main ${one}`)).find(Boolean);
  return found ? found.textContent.trim().replace(/\s+/g, " ").slice(0, 200) : "";
}

const about = (one) => one.to.split(/[/?#]/).slice(0, 3).join("/");

// Sends what this person's entries are, oldest first. One that waits for an answer holds back those about the same thing.
// `mine`: the id of the one that was sent from this page just now; gives what came of it.
async function sendAll(mine = "", secrets = []) {
  const held = new Set();
  let came = { how: "later" };
  for (const one of await all()) {
    if (over || !me) break;
    if (one.person !== me) continue;
    if (held.has(about(one)) || one.asked) {
      held.add(about(one));
      continue;
    }
    const answer = await post(one, one.id === mine ? secrets : []).catch(() => ({ how: "later" }));
    if (one.id === mine) came = answer;
    if (answer.how === "sent") {
      await forget(one.id);
      if (one.id !== mine) sent += 1;
      settled(one.id, answer.next);
    } else if (answer.how === "page" && (one.id === mine || answer.why === "nothing")) {
      await forget(one.id); // whoever sent it reads the page, and has the form again; or nothing is left to answer
      if (one.id !== mine) settled(one.id, one.page);
    } else if (answer.how === "page" || one.id === mine && answer.how === "away") {
      await keep({ ...one, asked: told(answer.html) });
      held.add(about(one));
    } else break;
  }
  return came;
}

// IndexedDB takes a moment, in which the next scan may leave the page: what was tapped stands here until it is kept, and
// the page that comes takes it over (nothing is none to keep).
const clear = () => delete localStorage.unsent;
let queue = keep(JSON.parse(localStorage.unsent || null)).then(clear, clear);
function send(mine, secrets) {
  clearTimeout(timer);
  const done = queue.then(() => sendAll(mine, secrets));
  queue = done.then(show, show);
  return done;
}

// -- a finger that taps once more: what the page that comes puts under it was not meant

const UNMEANT = 1500, FINGER = 60; // ms, CSS px
const since = Date.now(), root = document.documentElement.dataset;
let finger = null;
root.finger = sessionStorage.finger || null;
delete sessionStorage.finger;
addEventListener("pointerdown", (event) => { finger = event.pointerType === "mouse" ? null : [event.clientX, event.clientY]; }, true);
addEventListener("click", (event) => {
  const was = JSON.parse(root.finger);
  if (!was || !finger || Date.now() - since > UNMEANT || Math.hypot(was[0] - finger[0], was[1] - finger[1]) > FINGER) return;
  event.preventDefault();
  event.stopImmediatePropagation();
}, true);

// -- a form

document.addEventListener("submit", (event) => {
  const form = event.target, button = event.submitter;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  sessionStorage.finger = JSON.stringify(finger);
  form.dataset.sent = "1"; // a second tap sends nothing
  const post = (button && button.getAttribute("formmethod") || form.method) === "post";
  if (!post || !me || !form.elements.entry) return;
  event.preventDefault();
  sendForm(form, button).catch(() => sendPlainly(form, button));
});
window.addEventListener("pageshow", () => {
  document.querySelectorAll("form[data-sent]").forEach((form) => delete form.dataset.sent);
});

const goesTo = (form, button) => button && button.getAttribute("formaction") || form.getAttribute("action");

async function sendForm(form, button) {
  const data = new FormData(form, button);
  if (button && button.name && !data.getAll(button.name).includes(button.value)) data.append(button.name, button.value);
  const fields = [...data].filter(([, value]) => !(value instanceof File) || value.size);
  const secrets = fields.filter(([name]) => name.includes("secret"));
  const id = data.get("entry"), to = goesTo(form, button);
  const what = [button && button.textContent.trim(), document.title.split(" – ")[0]].filter(Boolean).join(" · ");
  const one = {
    id, to, what, person: me, name: document.querySelector(".who strong").textContent, page: location.pathname + location.search,
    acted: Date.now(), fields: fields.filter((field) => !secrets.includes(field)), // a secret is never kept
  };
  if (form.enctype < "m") localStorage.unsent = JSON.stringify(one); // application/...; what is multipart/... may have a file
  await keep(one).then(clear);
  const came = await send(id, secrets);
  if (form.dataset.instead && (came.how === "sent" || came.ok)) await forget(form.dataset.instead);
  if (came.how === "sent") go(came.next);
  else if (came.html && came.how !== "later") read(came.html, to);
  else note(form, id, came.html ? told(came.html) : "");
}

function sendPlainly(form, button) {
  if (button && button.name) {
    const chosen = document.createElement("input");
    Object.assign(chosen, { type: "hidden", name: button.name, value: button.value });
    form.append(chosen);
  }
  form.action = goesTo(form, button);
  HTMLFormElement.prototype.submit.call(form);
}

function go(next) {
  const to = new URL(next, location.href), here = to.pathname + to.search === location.pathname + location.search;
  location.assign(to);
  if (here && to.hash) location.reload(); // else only the view would move
}

// The page that answers a form, in the place of the form's own.
function read(html, to) {
  over = true;
  clearTimeout(timer);
  document.open();
  document.write(html);
  document.close();
  scrollTo(0, 0);
  const first = document.querySelector("main [autofocus]"), target = to.includes("#") && document.getElementById(to.split("#")[1]);
  if (first) first.focus();
  else if (target) target.scrollIntoView();
}

// -- what the page says of it

const bring = (name, onload) => document.head.append(make("script", "", { src: document.body.dataset[name], onload }));
const make = (tag, text, more = {}) => Object.assign(document.createElement(tag), { textContent: text }, more);

// Beside a form whose entry is not sent yet: that it is kept, and a way to another one, which has an id of its own.
function note(form, id, why) {
  const line = make("div", "", { className: "kept" });
  line.dataset.id = id;
  const said = make("p", [words.kept, why].filter(Boolean).join(" "));
  said.setAttribute("role", "alert");
  const more = make("button", words.more, { type: "button", className: "quiet" });
  more.addEventListener("click", () => {
    line.remove();
    form.reset();
    form.elements.entry.value = newId();
    form.querySelectorAll("button").forEach((one) => { one.disabled = false; });
    delete form.dataset.sent;
  });
  form.querySelectorAll("button").forEach((one) => { one.disabled = true; });
  line.append(said, more);
  form.append(line);
  line.scrollIntoView({ block: "nearest" });
}

function settled(id, next) {
  const line = document.querySelector(`.kept[data-id="${CSS.escape(id)}"] p`);
  if (line) line.replaceChildren(make("a", words.done, { href: next }));
}

// The list of what is not sent is unsent.js. The page to sign in brings it, so that a phone has it; any other asks for it
// where there is something to tell, and again with each try until it came. Keeping and sending do not wait for it.
async function show() {
  if (over || !box) return;
  const found = await all(), waits = found.some((one) => one.person === me && !one.asked);
  clearTimeout(timer);
  if (me && waits) {
    timer = setTimeout(send, pause * 1000);
    pause = Math.min(2 * pause, SELDOM);
  }
  if (!found.length && !sent && box.hidden) return;
  if (window.tellUnsent) await tellUnsent(found, sent, { box, words, me, forget, post, send, go, read, make });
  else bring("unsent", () => { queue = queue.then(show, show); });
}

// -- another light: what was typed goes along (light.js), fetched when the light is switched

if (sessionStorage.typed) bring("light");
document.addEventListener("submit", (event) => {
  if (!event.target.matches(".view")) return;
  if (window.keepTyped) { keepTyped(); return; }
  event.preventDefault();
  bring("light", () => { keepTyped(); sendPlainly(event.target, event.submitter); });
});
document.addEventListener("keydown", (event) => {
  const open = event.key === "Escape" && event.target.closest("details[open]");
  if (!open) return;
  open.open = false;
  open.querySelector("summary").focus();
});

const now = () => { pause = SOON; send(); };
window.addEventListener("online", now);
document.addEventListener("visibilitychange", () => { if (!document.hidden) now(); });
if (box) now();
})();
