// How is an element of the bench page made? From text alone: nothing that is read becomes markup.

import { say } from "./bench_words.js";

const SVG = "http://www.w3.org/2000/svg";
const REPEAT_MS = 400;
const DIGIT_MS = 120;
const SAME_PLACE_PX = 48;

// Gives an element; `given` holds attributes, properties (`hidden`, `disabled`, `value`), and `tap`, what a tap does.
export function el(tag, given = {}, ...inside) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(given)) {
    if (value === undefined || value === null || value === false) continue;
    if (name === "tap") made.addEventListener("click", value);
    else if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (name === "value") made.value = value;
    else made.setAttribute(name, value === true ? "" : value);
  }
  put(made, inside);
  return made;
}

function put(into, things) {
  for (const thing of things.flat(3)) {
    if (thing === undefined || thing === null || thing === false || thing === "") continue;
    into.append(thing instanceof Node ? thing : String(thing));
  }
}

export function glyph(name, size = "") {
  const drawn = document.createElementNS(SVG, "svg");
  drawn.setAttribute("class", `glyph ${size}`.trim());
  drawn.setAttribute("aria-hidden", "true");
  const use = document.createElementNS(SVG, "use");
  use.setAttribute("href", `#glyph-${name}`);
  drawn.append(use);
  return drawn;
}

export function button(words, tap, { kind = "", ...more } = {}) {
  return el("button", { type: "button", class: `button ${kind}`.trim(), tap, ...more }, words);
}

// A tile that is on or off; its state is told by a box, a word for those who listen, and a ground.
export function toggle(words, on, tap, more = {}) {
  return el("button", { type: "button", class: "tick", "aria-pressed": String(on), tap, ...more }, el("span", {}, words));
}

export function tag(state, words) {
  return el("span", { class: "tag", "data-state": state }, glyph(state), words);
}

// A fern's name as the server typeset it: its slanted words are kept, any other markup is read as text.
export function fernName(tray) {
  const named = el("span", { class: "fern" });
  const read = new DOMParser().parseFromString(tray.fern_html || "", "text/html");
  if (!read.body.textContent.trim()) {
    named.append(tray.fern || "");
    return named;
  }
  const walk = (from, to) => {
    for (const node of from.childNodes) {
      if (node.nodeType === Node.TEXT_NODE) to.append(node.textContent);
      else if (node.nodeType === Node.ELEMENT_NODE) {
        const slanted = node.localName === "em" || node.localName === "i";
        const next = slanted ? el(node.localName) : to;
        if (slanted) to.append(next);
        walk(node, next);
      }
    }
  };
  walk(read.body, named);
  return named;
}

// Water on the glass taps twice. The second tap may meet a new element in the same place, or the same words drawn anew:
// either is taken for a repeat. Digits alone may follow one another quickly: 22 is typed with one key.
export function ignoreRepeats(root) {
  let last = { says: "", at: -Infinity, x: 0, y: 0 };
  root.addEventListener("click", (event) => {
    const tapped = event.target.closest("button, a, summary, label");
    // A key, and Enter in a form, count no taps.
    if (!tapped || event.detail === 0) return;
    const now = { says: tapped.textContent.trim() || tapped.id, at: event.timeStamp, x: event.clientX, y: event.clientY };
    const samePlace = Math.hypot(now.x - last.x, now.y - last.y) < SAME_PLACE_PX;
    const wait = "digit" in tapped.dataset ? DIGIT_MS : REPEAT_MS;
    if ((now.says === last.says || samePlace) && now.at - last.at < wait) {
      event.preventDefault();
      event.stopImmediatePropagation();
      return;
    }
    last = now;
  }, true);
}

const two = (number) => String(number).padStart(2, "0");

export function clockWords(when) {
  const at = new Date(when);
  return `${two(at.getHours())}:${two(at.getMinutes())}`;
}

// "2026-11-20" as people here read a day
export function dayWords(day) {
  const at = new Date(`${day}T12:00:00`);
  return say("day", {
    weekday: say("weekdays").split(" ")[at.getDay()], day: at.getDate(), month: say("months").split(" ")[at.getMonth()], year: at.getFullYear(),
  });
}

export function momentWords(when) {
  return `${dayWords(localDay(when))} ${clockWords(when)}`;
}

export function localDay(when = Date.now()) {
  const at = new Date(when);
  return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
}
