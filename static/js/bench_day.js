// What stands on the benches, as this tablet knows it: the server's list, and what was logged here since?

import { localDay } from "./bench_dom.js";
import { keep, kept } from "./bench_store.js";
import { call } from "./bench_send.js";
import { say, unitWords } from "./bench_words.js";

const EMPTY = {
  people: [], trays: [], stages: {}, signs: [], causes: [], bench_names: {}, shut: [], idle_minutes: 240, pin_needed: false,
};

let day = EMPTY;
let etag = "";
let loadedAt = null;
let byCode = new Map();
let byFolded = new Map();

export const today = () => day;
export const listFrom = () => loadedAt;
export const isEmpty = () => !day.trays.length;

// Takes the list that this tablet kept from last time.
export async function recall() {
  const before = await kept("day");
  if (before) take(before.day, before.etag, before.loadedAt);
}

// Asks the server for the list of now, with what waits here laid over it; gives whether a new one came.
export async function refresh(records) {
  const { status, body, etag: next } = await call("/bench/day.json", { etag });
  if (status === 304) {
    loadedAt = Date.now();
    return false;
  }
  await keep("day", { day: body, etag: next, loadedAt: Date.now() });
  take(body, next, Date.now());
  for (const record of records) lay(record.item);
  return true;
}

function take(found, itsEtag, at) {
  day = { ...EMPTY, ...structuredClone(found) };
  etag = itsEtag;
  loadedAt = at;
  byCode = new Map(day.trays.map((tray) => [tray.code, tray]));
  byFolded = new Map(day.trays.map((tray) => [tray.code.toUpperCase(), tray]));
}

// A code as it stands, then whatever its case; undefined when no tray on the list carries it.
export const exact = (code) => byCode.get(code);
export const find = (code) => byCode.get(code) || byFolded.get(code.toUpperCase());

// What a tray looks like that the list does not hold.
export const stranger = (code) => ({ code, fern: "", fern_html: "", next_stages: [], signs: [], unknown: true });

export const isDue = (tray, on = localDay()) => Boolean(tray.due_on && tray.due_on <= on && !tray.shut_until);

export const isLate = (tray) => Boolean(tray.late && isDue(tray));

// The next tray of the round that is due, from this one on and then from the start; undefined when none is.
export function nextAfter(code) {
  const at = day.trays.findIndex((tray) => tray.code === code);
  const round = [...day.trays.slice(at + 1), ...day.trays.slice(0, Math.max(at, 0))];
  return round.find((tray) => isDue(tray));
}

// The benches of the round in walking order: [{code, name, trays}].
export function benches() {
  const found = new Map();
  for (const tray of day.trays) {
    const code = tray.bench || "";
    if (!found.has(code)) found.set(code, { code, name: day.bench_names[code] || code || say("no_bench"), trays: [] });
    found.get(code).trays.push(tray);
  }
  return [...found.values()];
}

export const stageWords = (stage) => day.stages[stage] || stage || "";
export const signWords = (sign) => day.signs.find((one) => one.word === sign)?.label || sign;
export const placeWords = (tray) => [
  day.bench_names[tray.bench] || tray.bench || say("no_bench"),
  tray.row ? say("row", { n: tray.row }) : "", tray.column ? say("column", { n: tray.column }) : "",
].filter(Boolean).join(", ");

// Lays what was logged here over the list, so that it shows at once, sent or not.
export function lay(item) {
  const tray = byCode.get(item.tray);
  if (!tray) return;
  if (item.kind === "check") {
    Object.assign(tray, {
      before: tray.before || structuredClone(tray), due_on: null, late: false, why: "", last_by: item.by,
      last_look: localDay(item.occurred_at), last_words: lookWords(item), signs: item.glance ? tray.signs : item.signs || [],
    });
    if (item.stage_seen) Object.assign(tray, { stage: item.stage_seen, stage_label: stageWords(item.stage_seen) });
    if (item.stage_seen) tray.next_stages = (tray.next_stages || []).slice(1 + tray.next_stages.indexOf(item.stage_seen));
    const lost = (item.losses || []).reduce((sum, loss) => sum + loss.quantity, 0);
    if (Number.isInteger(item.count) && !item.about) tray.alive = item.count;
    else if (Number.isInteger(tray.alive)) tray.alive = Math.max(0, tray.alive - lost);
  } else if (item.kind === "move") {
    Object.assign(tray, { bench: item.bench, row: item.row ?? null, column: item.column ?? null });
  } else if (item.kind === "isolate") {
    tray.isolated = item.isolated;
  } else if (item.kind === "prick_out" || item.kind === "pot_up") {
    if (Number.isInteger(tray.alive)) tray.alive = Math.max(0, tray.alive - item.quantity);
  }
}

// Takes a look back off the list: the tray is again as it was before.
export function unlay(code) {
  const tray = byCode.get(code);
  if (tray?.before) Object.assign(tray, tray.before, { before: undefined });
}

// What was picked is back in its tray.
export function unpick({ tray: code, quantity }) {
  const tray = byCode.get(code);
  if (Number.isInteger(tray?.alive)) tray.alive += quantity;
}

// A look in a line: "mould; 84 patches".
export function lookWords(item) {
  const tray = byCode.get(item.tray);
  const parts = [];
  if (item.stage_seen) parts.push(stageWords(item.stage_seen));
  parts.push(...(item.signs || []).map(signWords));
  const unit = unitWords(tray);
  if (Number.isInteger(item.count)) parts.push(say(item.about ? "about_count" : "count", { n: item.count, unit }));
  for (const loss of item.losses || []) parts.push(say("n_lost", { n: loss.quantity }));
  if (item.opened) parts.push(say("opened"));
  if (item.note) parts.push(say("a_note"));
  return parts.join("; ") || say(item.glance ? "looked_over" : "nothing_new");
}
