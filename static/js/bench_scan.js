// What does a scanned or typed text name? A label's address from whatever host, a code with its check letter, a badge.

import { say } from "./bench_words.js";

const LETTERS = "ABCDEFGHJKLMNPRSTUVWXYZ";
const PRIME = LETTERS.length;
const ROOT = 5;
const VALUES = new Map([..."0123456789"].map((digit, value) => [digit, value]));
[..."WLMPRTV"].forEach((letter, place) => VALUES.set(letter, 10 + place));

const TRAY = /^\d\dW\d\d-\d{3,4}-\d{2,3}-[A-Z]$/;
const BATCH = /^\d\dW\d\d-\d{3,4}-[A-Z]$/;
const OTHER = /^([LMPR])\d\d-\d{3,4}-[A-Z]$/;
const OWN = /^[A-Za-z0-9](?:[A-Za-z0-9._-]{0,30}[A-Za-z0-9])?$/;
const LABEL = /^https?:\/\/[^/?#\s]+\/t\/([^/?#\s]+)\/?(?:[?#]\S*)?$/i;
const BADGE = /^BADGE-[A-Z0-9-]{8,100}$/i;
// what some scanners set before the text: the kind of code they saw
const SCANNER_PREFIX = /^\][A-Za-z]\d/;

// The check letter of a code's body: the weighted sum modulo 23 that batches/core/codes.py explains.
export function checkLetter(body) {
  let total = 0;
  let weight = ROOT;
  for (const symbol of body.replaceAll("-", "")) {
    total += weight * VALUES.get(symbol);
    weight = (weight * ROOT) % PRIME;
  }
  return LETTERS[total % PRIME];
}

// Gives {kind, code}: kind is tray (of this program's form, letter right), own (a nursery's own code), badge, or
// wrong, with `words` for the person.
export function readScan(text) {
  const trimmed = text.trim().replace(SCANNER_PREFIX, "");
  if (BADGE.test(trimmed)) return { kind: "badge", code: trimmed };
  const label = LABEL.exec(trimmed);
  const code = label ? unquoted(label[1]) : trimmed;
  const shown = code.length > 40 ? `${code.slice(0, 40)}…` : code;
  if (!OWN.test(code)) return { kind: "wrong", code, words: say("no_code", { code: shown }) };
  const upper = code.toUpperCase();
  const other = OTHER.exec(upper);
  const shaped = TRAY.test(upper) || BATCH.test(upper) || other;
  if (shaped && !fits(upper)) {
    const words = say("mistyped", { code: shown });
    return { kind: "wrong", code, words };
  }
  if (TRAY.test(upper)) return { kind: "tray", code: upper };
  if (BATCH.test(upper)) return { kind: "wrong", code, words: say("is_batch", { code: upper }) };
  if (other) return { kind: "wrong", code, words: say(`is_${other[1]}`, { code: upper }) };
  return { kind: "own", code };
}

function fits(upper) {
  const cut = upper.lastIndexOf("-");
  const body = upper.slice(0, cut);
  return [...body].every((symbol) => symbol === "-" || VALUES.has(symbol)) && checkLetter(body) === upper.slice(cut + 1);
}

function unquoted(part) {
  try { return decodeURIComponent(part); } catch { return part; }
}
