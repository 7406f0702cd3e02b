// What does one say of a look, with wet hands? The form of one tray; it is kept at every tap.

import { button, el, glyph, tag, toggle } from "./bench_dom.js";
import { signWords, stageWords, today } from "./bench_day.js";
import { newId } from "./bench_outbox.js";
import { keep, kept } from "./bench_store.js";
import { say, unitWords } from "./bench_words.js";

const MOST = 1_000_000;

export const blank = () => ({
  id: newId(), stage_seen: "", signs: [], count: null, about: false, losses: [], opened: false, note: "", photos: [],
  tab: "trouble", padOpen: false,
});

export const formName = (code) => `form ${code}`;
export const formOf = async (code) => (await kept(formName(code))) || blank();

export function isBlank(form) {
  return !(form.stage_seen || form.signs.length || form.count !== null || form.losses.some((loss) => loss.quantity)
    || form.opened || form.note.trim() || form.photos.length || form.strikes);
}

export const saveWords = (form) => say(form.strikes ? "save_change" : isBlank(form) ? "looked_nothing_new" : "save_look");

// The item that a form stands for; an empty form is "looked, nothing new".
export function itemOf(form, code) {
  const item = { kind: "check", id: form.id, tray: code };
  if (form.occurred_at) item.occurred_at = form.occurred_at;
  if (form.stage_seen) item.stage_seen = form.stage_seen;
  if (form.signs.length) item.signs = form.signs;
  if (form.count !== null) item.count = form.count;
  if (form.count !== null && form.about) item.about = true;
  const losses = form.losses.filter((loss) => loss.quantity > 0);
  if (losses.length) item.losses = losses;
  if (form.opened) item.opened = true;
  if (form.note.trim()) item.note = form.note.trim();
  return item;
}

// A form filled in from an item that was logged before, to be changed.
export function formFrom(item) {
  return {
    ...blank(), stage_seen: item.stage_seen || "", signs: item.signs || [], count: item.count ?? null, about: Boolean(item.about),
    losses: item.losses || [], opened: Boolean(item.opened), note: item.note || "", occurred_at: item.occurred_at, strikes: item.id,
  };
}

const TABS = ["trouble", "count", "lost", "more"];

// The tabs and the open panel. `changed` is called after every change, with the form as it is then.
export function lookPanel(form, tray, changed, deeds) {
  const change = (more) => changed(Object.assign(form, more));
  const tabs = el("div", { class: "tabs-large", role: "group", "aria-label": say("what_seen") }, TABS.map((name) => el("button", {
    type: "button", class: "tab", "aria-pressed": String(form.tab === name), tap: () => change({ tab: name }),
  }, say(`tab_${name}`), mark(form, name))));
  const panels = { trouble, count, lost, more };
  return [tabs, el("div", { class: "panel" }, panels[form.tab](form, tray, change, deeds))];
}

function mark(form, name) {
  const said = {
    trouble: form.signs.length || "", count: form.count === null ? "" : form.about ? say("about", { n: form.count }) : `${form.count}`,
    lost: form.losses.reduce((sum, loss) => sum + loss.quantity, 0) || "", more: form.note.trim() || form.opened ? "1" : "",
  }[name];
  return said === "" ? "" : el("span", { class: "said" }, String(said));
}

// The stages that may be seen next, in the card of the tray.
export function stageToggles(form, tray, changed) {
  const next = tray.next_stages || [];
  if (!next.length) return "";
  return el("div", { class: "seen", role: "group", "aria-label": say("new_stage") }, el("p", {}, el("strong", {}, say("new_stage_asked"))),
    next.map((stage) => toggle([glyph(stage), stageWords(stage)], form.stage_seen === stage,
      () => changed(Object.assign(form, { stage_seen: form.stage_seen === stage ? "" : stage })))));
}

function trouble(form, tray, change) {
  const flip = (word) => change({ signs: form.signs.includes(word) ? form.signs.filter((one) => one !== word) : [...form.signs, word] });
  const before = (tray.before?.signs || tray.signs || []);
  const same = before.length > 0 && before.some((word) => !form.signs.includes(word));
  return [
    same ? button(say("same_as_last", { what: before.map(signWords).join(", ") }), () => change({ signs: [...before] }), { kind: "secondary" }) : "",
    el("div", { class: "ticks" }, today().signs.map((sign) => toggle(sign.label, form.signs.includes(sign.word), () => flip(sign.word)))),
  ];
}

function count(form, tray, change) {
  const unit = unitWords(tray);
  const alive = Number.isInteger(tray.alive) ? tray.alive : null;
  const start = form.count ?? alive ?? 0;
  const step = (by) => change({ count: Math.min(MOST, Math.max(0, start + by)) });
  const number = el("button", { type: "button", class: "number", "aria-label": form.count === null ? say("not_counted_pad") : say("counted_pad", { n: form.count, unit }),
    "aria-expanded": String(form.padOpen), tap: () => change({ padOpen: !form.padOpen }) }, form.count === null ? "–" : String(form.count));
  const lastCount = alive !== null && alive !== tray.capacity ? alive : null;
  if (form.padOpen) {
    return [el("div", { class: "pad-beside" }, pad(form.count ?? 0, (value) => change({ count: value }), () => change({ padOpen: false })), number)];
  }
  return [
    el("div", { class: "stepper", role: "group", "aria-label": say("alive_of", { unit }) },
      button("−10", () => step(-10), { kind: "secondary" }), button("−1", () => step(-1), { kind: "secondary" }), number,
      button("+1", () => step(1), { kind: "secondary" }), button("+10", () => step(10), { kind: "secondary" })),
    el("div", { class: "ticks wide" },
      alive === null ? "" : toggle(say("all_alive", { n: alive }), form.count === alive && !form.about, () => change({ count: alive, about: false })),
      lastCount === null && tray.capacity ? toggle(say("full", { n: tray.capacity }), form.count === tray.capacity, () => change({ count: tray.capacity })) : "",
      alive === null ? "" : toggle(say("same_as_last", { what: say("about", { n: alive }) }), form.count === alive && form.about, () => change({ count: alive, about: true })),
      toggle(say("about_only"), form.about, () => change({ about: !form.about })),
      form.count === null ? "" : button(say("no_count"), () => change({ count: null, about: false }), { kind: "secondary" })),
    el("p", {}, alive === null ? say("not_counted_yet", { unit }) : say("stock_book_says", { n: alive, unit })),
    alive !== null && form.count !== null && form.count < alive && !form.about && !form.losses.length
      ? button(say("write_as_lost", { n: alive - form.count }), () => change({ losses: [{ quantity: alive - form.count, cause: likelyCause(form) }], tab: "lost" }), { kind: "secondary" }) : "",
  ];
}

// A number pad; digits add up from the right.
function pad(value, set, done) {
  const digits = [..."123456789"].map((digit) => key(digit));
  function key(digit) {
    return button(digit, () => set(Math.min(MOST, value * 10 + Number(digit))), { kind: "secondary", "data-digit": true });
  }
  return el("div", { class: "pad", role: "group", "aria-label": say("number_pad") }, digits,
    button(say("delete"), () => set(Math.floor(value / 10)), { kind: "secondary", "data-digit": true }), key("0"), button(say("done"), done));
}

const likelyCause = (form) => form.signs.find((sign) => today().causes.some((cause) => cause.word === sign)) || "unknown";

function lost(form, tray, change) {
  const losses = form.losses.length ? form.losses : [{ quantity: 0, cause: likelyCause(form) }];
  const set = (place, more) => change({ losses: losses.map((loss, at) => (at === place ? { ...loss, ...more } : loss)) });
  const rows = losses.map((loss, place) => el("div", { class: "loss" },
    el("div", { class: "stepper", role: "group", "aria-label": say("lost_of", { unit: unitWords(tray) }) },
      button("−10", () => set(place, { quantity: Math.max(0, loss.quantity - 10) }), { kind: "secondary" }),
      button("−1", () => set(place, { quantity: Math.max(0, loss.quantity - 1) }), { kind: "secondary" }),
      el("output", { class: "number" }, String(loss.quantity)),
      button("+1", () => set(place, { quantity: Math.min(MOST, loss.quantity + 1) }), { kind: "secondary" }),
      button("+10", () => set(place, { quantity: Math.min(MOST, loss.quantity + 10) }), { kind: "secondary" })),
    el("label", { class: "field" }, el("strong", {}, say("cause")), el("select", {
      onchange: (event) => set(place, { cause: event.target.value }),
    }, today().causes.map((cause) => el("option", { value: cause.word, selected: cause.word === loss.cause }, cause.label))))));
  return [
    el("p", {}, say("lost_since", { unit: unitWords(tray) })),
    rows,
    losses.every((loss) => loss.quantity) ? button(say("another_cause"), () => change({ losses: [...losses, { quantity: 0, cause: "unknown" }] }), { kind: "secondary" }) : "",
  ];
}

function more(form, tray, change, deeds) {
  const note = el("textarea", {
    id: "note", rows: "2", maxlength: "2000", value: form.note,
    // Nothing is drawn anew here: the tap that leaves the field would meet another button than it aimed at.
    oninput: (event) => { form.note = event.target.value; keepForm(form, tray).catch(() => {}); },
  });
  return [
    el("div", { class: "ticks wide" }, toggle(say("lid_opened"), form.opened, () => change({ opened: !form.opened }))),
    el("label", { class: "field", for: "note" }, el("strong", {}, say("note"))), note,
    el("div", { class: "button-row deeds" }, deeds),
    el("p", { class: "caution-line" }, tag("caution", say("caution")), " ", say("caution_look")),
  ];
}

export const keepForm = (form, tray) => keep(formName(tray.code), form);
export const forgetForm = (code) => keep(formName(code), undefined);
