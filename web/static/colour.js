// The colour difference while a reading is typed, by the same formula and limits as the server: “Check” says it without this.
"use strict";

// CIEDE2000 (Sharma, Wu, Dalal, Color Res. Appl. 30:21-30, 2005), all weights 1. Each colour: [L*, a*, b*].
function ciede2000([l1, a1, b1], [l2, a2, b2]) {
  const turn = 2 * Math.PI, rad = Math.PI / 180;
  const far = (c) => Math.sqrt(c ** 7 / (c ** 7 + 25 ** 7));
  const g = 0.5 * (1 - far((Math.hypot(a1, b1) + Math.hypot(a2, b2)) / 2));
  const [x1, x2] = [(1 + g) * a1, (1 + g) * a2];
  const [c1, c2] = [Math.hypot(x1, b1), Math.hypot(x2, b2)];
  const angle = (x, b) => (x === 0 && b === 0 ? 0 : (Math.atan2(b, x) + turn) % turn);
  const [h1, h2] = [angle(x1, b1), angle(x2, b2)];
  const none = c1 * c2 === 0;
  let dh = none ? 0 : h2 - h1;
  if (dh > Math.PI) dh -= turn;
  else if (dh < -Math.PI) dh += turn;
  let h = h1 + h2;
  if (!none) {
    if (Math.abs(h1 - h2) > Math.PI) h += h < turn ? turn : -turn;
    h /= 2;
  }
  const [l, c] = [(l1 + l2) / 2, (c1 + c2) / 2];
  const t = 1 - 0.17 * Math.cos(h - 30 * rad) + 0.24 * Math.cos(2 * h) + 0.32 * Math.cos(3 * h + 6 * rad)
    - 0.2 * Math.cos(4 * h - 63 * rad);
  const sl = 1 + 0.015 * (l - 50) ** 2 / Math.sqrt(20 + (l - 50) ** 2);
  const [sc, sh] = [1 + 0.045 * c, 1 + 0.015 * c * t];
  const rt = -2 * far(c) * Math.sin(60 * rad * Math.exp(-(((h / rad - 275) / 25) ** 2)));
  const [dl, dc, dhh] = [(l2 - l1) / sl, (c2 - c1) / sc, (2 * Math.sqrt(c1 * c2) * Math.sin(dh / 2)) / sh];
  return Math.sqrt(dl * dl + dc * dc + dhh * dhh + rt * dc * dhh);
}

// The mean of the readings in a text, or null where the server is to read it.
function readingOf(text) {
  let plain = text.replace(/[−–‒]/g, "-").replace(/\u00a0/g, " ").trim();
  const label = /(?<![a-z])(?:cie\s*)?([labch])(?:\s*[*°])?\s*[:=]?\s*([-+]?\d{1,3}(?:[.,]\d+)?)°?[\s,;/|]*/gi;
  const labelled = [...plain.matchAll(label)];
  let numbers = [];
  if (labelled.length) {
    if (plain.replace(label, "").trim()) return null;
    const parts = labelled.filter((one) => "lab".includes(one[1].toLowerCase()));
    for (let start = 0; start < parts.length; start += 3) {
      const of = Object.fromEntries(parts.slice(start, start + 3).map((one) => [one[1].toLowerCase(), one[2]]));
      numbers.push(of.l, of.a, of.b);
    }
  } else {
    for (const part of plain.split(/[\s;/|]+/).filter(Boolean)) {
      const bare = part.replace(/,+$/, "");
      const pieces = bare.split(",");
      if (pieces.length === 1 || (pieces.length === 2 && !bare.includes("."))) numbers.push(bare);
      else if (pieces.length === 3 || bare.includes(".")) numbers.push(...pieces);
      else return null;
    }
    if (numbers.length === 6 && plain.includes(",") && !numbers.some((one) => /[.,]/.test(one))) return null;
  }
  if (!numbers.length || numbers.length % 3 || !numbers.every((one) => /^[-+]?(\d{1,3}([.,]\d{1,6})?|[.,]\d{1,6})$/.test(one || "")))
    return null;
  numbers = numbers.map((one) => Number(one.replace(",", ".")));
  const many = numbers.length / 3;
  const mean = [0, 1, 2].map((place) => numbers.filter((_one, at) => at % 3 === place).reduce((sum, one) => sum + one) / many);
  const can = numbers.every((one, at) => (at % 3 ? Math.abs(one) <= 200 : one >= 0 && one <= 100));
  return can ? mean : null;
}

// How the readings are taken, by the form, as it is stamped on them.
function takenHow(form) {
  const of = (name) => (form.querySelector(`[name="${name}"]:checked, input[type="text"][name="${name}"]`) || {}).value || "";
  const parts = ["lab_light", "lab_observer", "lab_mode", "lab_instrument"].map(of);
  if (parts.some(Boolean)) return parts.filter((one) => one && one !== "no mode").join(", ");
  return of("lab_conditions");
}

// What a colour is to meet: where garments differ, on the one that is chosen.
function toMeet(row) {
  const chosen = row.closest("form").querySelector('[name="garment"]:checked');
  return [...row.querySelectorAll(".meet")].find((one) => !one.dataset.garment || one.dataset.garment === chosen?.value);
}

function cameTo(row, words, how) {
  const meet = toMeet(row);
  if (!meet) return ["", ""];
  const target = ["l", "a", "b"].map((name) => Number(meet.dataset[name]));
  const read = readingOf(row.querySelector("input").value);
  if (!read) return ["", ""];
  if (meet.dataset.under && how && meet.dataset.under !== how)
    return ["unknown", `${words.levels.unknown}: ${words.otherwise.replace("{under}", meet.dataset.under)}`];
  if (!how || meet.dataset.warn === undefined) return ["", ""];
  const far = ciede2000(target, read);
  const level = far > Number(meet.dataset.fail) ? "stop" : far > Number(meet.dataset.warn) ? "caution" : "ok";
  const ways = [["lightness", 0], ["a", 1], ["b", 2]]
    .map(([axis, place]) => [words.ways[axis], target[place] - read[place]])
    .filter(([, by]) => Math.abs(by) >= 0.05)
    .sort((one, other) => Math.abs(other[1]) - Math.abs(one[1]))
    .map(([way, by]) => `${way[by > 0 ? 0 : 1]} ${Math.abs(by).toFixed(1)}`);
  let told = words.said.replace("{word}", words.levels[level]).replace("{difference}", far.toFixed(2));
  if (ways.length) told += ` ${words.turn.replace("{ways}", ways.join(", "))}`;
  return [level, told];
}

for (const part of document.querySelectorAll("#colours")) {
  const words = JSON.parse(part.dataset.words);
  part.closest("form").addEventListener("input", () => {
    const how = takenHow(part.closest("form"));
    for (const row of part.querySelectorAll(".colour")) {
      if (!row.querySelector(".meet")) continue;
      const [level, told] = cameTo(row, words, how);
      const place = row.querySelector(".came");
      place.className = `came ${level}`;
      place.textContent = told;
    }
  });
}
