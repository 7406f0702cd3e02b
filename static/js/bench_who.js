// Who is at the bench? A name stays for the working session: until nobody logged for a while, or the day ends.

import { button, el, glyph, localDay } from "./bench_dom.js";
import { today } from "./bench_day.js";
import { call } from "./bench_send.js";
import { keep, kept } from "./bench_store.js";
import { say } from "./bench_words.js";

let who = null;

export async function recallWho() {
  who = (await kept("who")) || null;
}

// The person at the bench, null when nobody is (any more).
export function atBench(now = Date.now()) {
  if (!who) return null;
  const idle = now - who.active > (today().idle_minutes || 240) * 60_000;
  if (idle || localDay(now) !== localDay(who.since)) return null;
  return who;
}

// Somebody did something: the session goes on.
export function stayed(now = Date.now()) {
  if (!atBench(now)) return;
  who = { ...who, active: now };
  keep("who", who).catch(() => {});
}

async function arrive(name, verified) {
  who = { name, verified, since: Date.now(), active: Date.now() };
  await keep("who", who).catch(() => {});
}

// Shows the names to tap. `then` goes on where one came from; what was entered there is kept.
export function showNames(app, { then }) {
  const people = today().people;
  const now = atBench();
  const tiles = people.map((person) => el("li", {}, el("button", {
    type: "button", class: "tile name", "aria-pressed": String(person.name === now?.name),
    tap: () => choose(person, app, then),
  }, person.name)));
  app.main.replaceChildren(
    el("h1", {}, say("who_at_bench")),
    people.length
      ? el("p", {}, say("tap_name"))
      : el("p", {}, say("no_names")),
    el("ul", { class: "tiles names" }, tiles),
    el("div", { class: "button-row" },
      now ? button(say("stay", { name: now.name }), () => then(), { kind: "secondary" }) : "",
      people.length ? "" : button(say("without_name"), async () => { await arrive("", false); then(); })),
  );
}

async function choose(person, app, then) {
  if (person.pin && today().pin_needed) {
    askPin(person, app, then);
    return;
  }
  await arrive(person.name, false);
  then();
}

function askPin(person, app, then) {
  let typed = "";
  app.redraw = () => {};
  const dots = el("output", { class: "pin-dots", "aria-label": say("digits_typed") }, "");
  const told = el("p", { class: "told", role: "alert" });
  const show = () => { dots.textContent = "•".repeat(typed.length) || " "; };
  const press = (digit) => { typed = (typed + digit).slice(0, 12); show(); };
  const done = async () => {
    if (!typed) return;
    const outcome = await check({ name: person.name, pin: typed });
    typed = "";
    show();
    if (outcome.refused) {
      told.textContent = outcome.refused;
      return;
    }
    await arrive(person.name, outcome.verified);
    then();
    if (!outcome.verified) app.say(say("pin_unchecked"));
  };
  const keys = (event) => {
    if (/^\d$/.test(event.key)) press(event.key);
    else if (event.key === "Backspace") { typed = typed.slice(0, -1); show(); }
    else if (event.key === "Enter" && !event.target.closest("button")) done();
    else return;
    event.preventDefault();
  };
  const pad = el("div", { class: "pad", tabindex: "0", role: "group", "aria-label": "PIN", onkeydown: keys, "data-keys": true },
    [..."123456789"].map((digit) => button(digit, () => press(digit), { kind: "secondary", "data-digit": true })),
    button(say("delete"), () => { typed = typed.slice(0, -1); show(); }, { kind: "secondary", "data-digit": true }),
    button("0", () => press("0"), { kind: "secondary", "data-digit": true }),
    button(say("enter"), done));
  app.main.replaceChildren(
    el("h1", {}, say("pin_of", { name: person.name })), dots, told, pad,
    el("div", { class: "button-row" }, button([glyph("back"), say("other_name")], () => app.draw(), { kind: "secondary" })),
    el("p", {}, say("badge_too")),
  );
  show();
  pad.focus();
}

// A badge was scanned: gives the sentence that says what came of it, and whether somebody is at the bench now.
export async function badge(secret) {
  const outcome = await check({ badge: secret });
  if (outcome.refused) return { words: outcome.refused, known: false };
  if (!outcome.verified) return { words: say("badge_needs_server"), known: false };
  await arrive(outcome.name, true);
  return { words: say("is_at_bench", { name: outcome.name }), known: true };
}

// Asks the server. Without an answer nobody is refused and nobody is proven.
async function check(given) {
  try {
    const { body } = await call("/sync/person", { method: "POST", body: JSON.stringify(given) });
    return { verified: body.verified === true, name: body.name };
  } catch (error) {
    if (error.kind !== "refused") return { verified: false };
    const wait = error.body?.wait_seconds;
    return { refused: wait ? `${error.message} ${say("wait", { n: wait })}` : error.message };
  }
}
