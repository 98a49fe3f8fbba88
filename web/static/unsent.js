// What is not sent yet, at the top of a page: how much of it, which, and what somebody left here who cannot sign in any
// more. app.js keeps and sends it; this file only tells of it, and is brought where there is something to tell.
"use strict";

(() => {
let page = null; // what app.js lends: {box, words, me, forget, post, send, go, read, make}
let here = null; // the names that can sign in
const say = (text, values) => text.replace(/\{(\w+)\}/g, (_all, name) => values[name]);

// `found`: what is kept on this phone (app.js); `sent`: how many went since the page is here.
window.tellUnsent = async (found, sent, lent) => {
  page = lent;
  const { box, words, me, make } = page, manages = Boolean(box.dataset.manages);
  const mine = found.filter((one) => one.person === me), asked = mine.filter((one) => one.asked);
  const others = new Map();
  for (const one of found) if (one.person !== me) others.set(one.name, 1 + (others.get(one.name) || 0));
  const gone = await whoLeft([...others.keys()]);
  const lines = [
    mine.length > asked.length && say(words.unsent, { n: mine.length - asked.length }),
    asked.length && say(words.asked, { n: asked.length }),
    sent && say(words.sent, { n: sent }),
    ...[...others].map(([name, n]) => say(!gone.has(name) ? words.others : manages ? words.left : words.gone, { name, n })),
  ].filter(Boolean);
  const open = Boolean(box.querySelector("details[open]"));
  const state = make("p", lines.join(" "));
  state.setAttribute("role", "status");
  box.replaceChildren(state);
  if (mine.length) box.append(folded(mine.map(lineOf), open || Boolean(asked.length)));
  const left = manages ? found.filter((one) => one.person !== me && gone.has(one.name)) : [];
  if (left.length) box.append(folded(left.map(lineOfLeft), open));
  box.hidden = !lines.length;
};

function folded(lines, open) {
  const list = page.make("details", "", { open });
  list.append(page.make("summary", page.words.which), page.make("ul", ""));
  list.lastChild.append(...lines);
  return list;
}

function lineOf(one) {
  const time = new Date(one.acted).toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit" });
  const line = page.make("li", `${one.what}, ${time}. ${one.asked || ""} `);
  if (one.asked) {
    const again = page.make("button", page.words.again, { type: "button" });
    again.addEventListener("click", () => openAgain(one).catch(() => page.send()));
    line.append(again);
  }
  line.append(dropOf(one));
  return line;
}

function dropOf(one) {
  const { words, forget, send, make } = page, drop = make("button", words.drop, { type: "button", className: "quiet" });
  drop.addEventListener("click", () => {
    if (drop.textContent === words.drop) drop.textContent = words.sure;
    else forget(one.id).then(() => send());
  });
  return drop;
}

// One that waits for an answer is sent again, for its person to read what is asked; it goes once it is saved.
async function openAgain(one) {
  const { post, forget, go, read } = page, answer = await post(one);
  if (answer.how === "sent" || answer.why === "saved-before") await forget(one.id);
  if (answer.how === "sent") go(answer.next);
  else if (answer.how !== "later") read(answer.html, one.to);
}

// -- what somebody left here who cannot sign in any more: nobody sends it under another name. A manager reads it, takes
// it along as text, and throws it away.

async function whoLeft(names) {
  if (!names.length) return new Set();
  try {
    here = here || await whoCanSignIn();
  } catch {
    return new Set(); // no answer: whoever it was may be here still
  }
  return new Set(names.filter((name) => !here.has(name)));
}

async function whoCanSignIn() {
  const answer = await fetch("/sign-in", { cache: "no-store" });
  const signIn = new DOMParser().parseFromString(await answer.text(), "text/html");
  const names = [...signIn.querySelectorAll("main input[name=who], main button[name=name]")].map((one) => one.value);
  if (!answer.ok || !names.length) throw new Error("no list of names");
  return new Set(names);
}

const UNREAD = ["entry", "usual", "seen", "then_to", "ask"];

function lineOfLeft(one) {
  const { words, make } = page;
  const fields = one.fields.filter(([name, value]) => typeof value === "string" && value && !UNREAD.includes(name));
  const when = new Date(one.acted).toLocaleString(document.documentElement.lang);
  const text = make("pre", [`${one.name}, ${when}: ${one.what}`, one.to, ...fields.map((field) => field.join(": "))].join("\n"));
  const copy = make("button", words.copy, { type: "button" });
  copy.addEventListener("click", () => {
    getSelection().selectAllChildren(text);
    if (document.execCommand("copy")) copy.textContent = words.copied; // plain HTTP has no navigator.clipboard
  });
  const line = make("li", "");
  line.append(text, copy, dropOf(one));
  return line;
}
})();
