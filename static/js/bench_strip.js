// The line that is always there: is everything sent, and who is at the bench?

import { clockWords, glyph, localDay, dayWords } from "./bench_dom.js";
import { standing } from "./bench_send.js";
import { counted, say } from "./bench_words.js";

const TOLD_MS = 5 * 60_000;

// Gives {state, words} of what is sent and what is not.
export function sendWords(now = Date.now()) {
  const { lastSent, problem, stranger, unread } = standing;
  const looks = unread + standing.refused + standing.stuck + (standing.refusedPhotos || 0);
  const when = lastSent ? whenWords(lastSent, now) : "";
  const waits = [
    standing.waiting ? say("n_waiting", { n: standing.waiting }) : "",
    standing.photos ? counted(standing.photos, standing.waiting ? "photo" : "photo_waiting") : "",
  ].filter(Boolean).join(", ");
  if (stranger) return { state: "trouble", words: [say("not_enrolled"), waits].filter(Boolean).join(", ") };
  if (looks) return { state: "trouble", words: [counted(looks, "need_a_look"), waits].filter(Boolean).join(", ") };
  if (waits) return { state: "waiting", words: [waits, when && say("last_sent", { when })].filter(Boolean).join(", ") };
  if (problem) return { state: "waiting", words: `${say("no_answer")}, ${when ? say("all_sent", { when }) : say("nothing_waits")}` };
  return { state: "sent", words: when ? say("all_sent", { when }) : say("nothing_waits") };
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
    said.push(say("clock_off", { here: bothWords(here), there: bothWords(here + standing.skew) }));
  }
  return said;
}

const bothWords = (when) => `${dayWords(localDay(when))} ${clockWords(when)}`;

// A time of an item in words: with the clock far off, the tablet's and the right one.
export function timeWords(when) {
  const at = typeof when === "number" ? when : Date.parse(when);
  if (Math.abs(standing.skew || 0) <= TOLD_MS) return bothWords(at);
  return say("both_times", { there: bothWords(at + standing.skew), here: bothWords(at) });
}

export function drawStrip(button) {
  const { state, words } = sendWords();
  if (button.dataset.words === words) return;
  button.dataset.words = words;
  button.dataset.state = state;
  button.replaceChildren(glyph(state), document.createTextNode(words));
}
