// The line that is always there: is everything sent, and who is at the bench?

import { clockWords, counted, glyph, localDay, dayWords } from "./bench_dom.js";
import { standing } from "./bench_send.js";

const TOLD_MS = 5 * 60_000;

// Gives {state, words} of what is sent and what is not.
export function sendWords(now = Date.now()) {
  const { lastSent, problem, stranger, unread } = standing;
  const looks = unread + standing.refused + (standing.refusedPhotos || 0);
  const last = lastSent ? ` ${whenWords(lastSent, now)}` : "";
  const waits = [
    standing.waiting ? `${standing.waiting} waiting` : "",
    standing.photos ? counted(standing.photos, "photo") + (standing.waiting ? "" : " waiting") : "",
  ].filter(Boolean).join(", ");
  if (stranger) return { state: "trouble", words: waits ? `not enrolled, ${waits}` : "not enrolled" };
  if (looks) return { state: "trouble", words: `${looks} ${looks === 1 ? "needs" : "need"} a look${waits ? `, ${waits}` : ""}` };
  if (waits) return { state: "waiting", words: `${waits}${last ? `, last sent${last}` : ""}` };
  if (problem) return { state: "waiting", words: `no answer${last ? `, all sent${last}` : ", nothing waits"}` };
  return { state: "sent", words: last ? `all sent${last}` : "nothing waits" };
}

function whenWords(when, now) {
  return localDay(when) === localDay(now) ? clockWords(when) : dayWords(localDay(when)).replace(/ \d{4}$/, "");
}

// What the page has to say about itself: the clock, the connection, the nursery's refusal. Empty when nothing.
export function warnings() {
  const said = [];
  if (standing.stranger) said.push(standing.problem);
  if (Math.abs(standing.skew || 0) > TOLD_MS) {
    const here = Date.now();
    said.push(`This tablet's clock says ${bothWords(here)}, the nursery's says ${bothWords(here + standing.skew)}. `
      + "Looks are put right when they are sent; set the tablet's clock all the same.");
  }
  return said;
}

const bothWords = (when) => `${dayWords(localDay(when))} ${clockWords(when)}`;

// A time of an item in words: with the clock far off, the tablet's and the right one.
export function timeWords(when) {
  const at = typeof when === "number" ? when : Date.parse(when);
  if (Math.abs(standing.skew || 0) <= TOLD_MS) return bothWords(at);
  return `${bothWords(at + standing.skew)} (this tablet's clock: ${bothWords(at)})`;
}

export function drawStrip(button) {
  const { state, words } = sendWords();
  if (button.dataset.words === words) return;
  button.dataset.words = words;
  button.dataset.state = state;
  button.replaceChildren(glyph(state), document.createTextNode(words));
}
