// The bench page: which screen shows, what a scan opens, and what happens when something is logged?

import { button, el, glyph, ignoreRepeats, localDay } from "./bench_dom.js";
import { exact, find, isEmpty, lay, recall, refresh, unlay } from "./bench_day.js";
import { isBlank } from "./bench_look.js";
import { add } from "./bench_outbox.js";
import { showPicking } from "./bench_picking.js";
import { showBench, showMove, showRound } from "./bench_round.js";
import { readScan } from "./bench_scan.js";
import { onChange, recount, send, skewNow, standing } from "./bench_send.js";
import { NotKept, askToStay, keep, kept, reading } from "./bench_store.js";
import { drawStrip, warnings } from "./bench_strip.js";
import { showTray } from "./bench_tray.js";
import { showWaiting } from "./bench_waiting.js";
import { atBench, badge, recallWho, showNames, stayed } from "./bench_who.js";
import { say } from "./bench_words.js";

const TICK_MS = 15_000;
const LIST_MS = 5 * 60_000;
const PLAIN = say("plain_http");
const main = document.getElementById("main");
const scan = document.getElementById("scan");
const strip = document.getElementById("strip");
const whoButton = document.getElementById("who");
const told = document.getElementById("told");
const undoPlace = document.getElementById("undo");

const SCREENS = { who: showNames, round: showRound, bench: showBench, tray: showTray, move: showMove, picking: showPicking, waiting: showWaiting };
let at = { screen: "round", given: {} };
let before = [];
let listAsked = 0;
let logging = false;
let pressed = false;
let drawWhenReleased = false;
let closed = new Set();

const app = {
  main, unsent: new Set(), begun: new Set(), ticked: new Set(), queue: null, logged: null, redraw: null, turn: 0,

  go(screen, given = {}) {
    if (screen !== at.screen && at.screen !== "who") before = [...before.slice(-8), at];
    at = { screen, given };
    if (screen === "round") app.queue = null;
    hush();
    app.draw();
    window.scrollTo(0, 0);
    scan.focus({ preventScroll: true });
  },
  goBack() {
    const last = before.pop() || { screen: "round", given: {} };
    at = last;
    app.draw();
    window.scrollTo(0, 0);
    scan.focus({ preventScroll: true });
  },
  // Asks who is here and then goes on where one was.
  askWho(then) {
    if (at.screen !== "who") before.push(at);
    const goOn = () => {
      // A tray that was scanned meanwhile stays open.
      if (at.screen === "who") app.goBack();
      drawFrame();
      then?.();
    };
    at = { screen: "who", given: { then: goOn } };
    drawFrame();
    app.draw();
  },
  // A screen that had to read first looks at `turn`: another may have come meanwhile.
  draw() {
    app.redraw = null;
    app.takeScan = app.remark = null;
    app.turn += 1;
    const show = SCREENS[at.screen];
    const given = at.screen === "bench" ? at.given.code : at.given;
    app.drawn = app.keepFocus(() => show(app, given));
  },
  // Draws anew and leaves the focus on the button of the same words.
  keepFocus(draw) {
    const active = document.activeElement;
    const words = main.contains(active) && active !== main ? active.textContent : "";
    const result = draw();
    if (words) [...main.querySelectorAll("button")].find((one) => one.textContent === words)?.focus({ preventScroll: true });
    if (document.activeElement === document.body) scan.focus({ preventScroll: true });
    return result;
  },
  openTray(code) {
    app.logged = null;
    app.go("tray", { code });
  },
  openNext(code) {
    app.logged = null;
    if (app.queue) app.queue.codes = app.queue.codes.filter((one) => one !== at.given.code);
    app.go("tray", { code });
  },
  openOneByOne(codes, bench) {
    app.ticked.clear();
    app.logged = null;
    app.queue = { codes, bench };
    app.go("tray", { code: codes[0] });
  },
  openBench(code) {
    app.ticked.clear();
    app.go("bench", { code });
  },
  say: (words) => tell(words, "note"),
  complain: (words) => tell(words, "trouble"),
  // Waits until something is kept; says so when it cannot be.
  async kept(promise) {
    try {
      return await promise;
    } catch (error) {
      notKept(error);
      return undefined;
    }
  },
  reached: () => !standing.problem,

  // Keeps what was done, shows it at once and sends it. `back` are the items that would undo it, if strike-outs do not;
  // `undone` is done when they were kept, in place of showing the tray as it was before its look.
  async log(items, { words, drop = "", back = null, undone = null, then }) {
    const who = atBench();
    if (!who) {
      app.askWho(() => app.log(items, { words, drop, back, undone, then }));
      return;
    }
    if (logging) return;
    logging = true;
    let made;
    try {
      made = await add(items, { by: who.name, verified: who.verified, skew: skewNow(), drop });
    } catch (error) {
      notKept(error);
      return;
    } finally {
      logging = false;
    }
    stayed();
    hush();
    made.forEach((record) => lay(record.item));
    showUndo(words, back || made.filter((record) => record.item.kind === "check").map((record) => (
      { kind: "strike_out", strikes_out: record.id, tray: record.item.tray })), undone);
    await recount();
    then();
    send({ hurry: true });
  },
  async fetchList() {
    listAsked = Date.now();
    try {
      if (await refresh(await recount())) redrawQuietly();
    } catch (error) {
      if (error instanceof NotKept) notKept(error);
      else if (isEmpty()) app.complain(`${error.message} ${say("no_fetch")}`);
    }
  },
};

function notKept(error) {
  app.complain(`${error.message} ${say("still_here")}`);
}

function tell(words, kind) {
  told.replaceChildren(glyph(kind === "trouble" ? "trouble" : "note"), el("p", {}, words),
    button(say("close"), hush, { kind: "secondary" }));
  told.dataset.state = kind === "trouble" ? "trouble" : "well";
  told.hidden = false;
}

function hush() {
  told.hidden = true;
}

function showUndo(words, back, undone) {
  undoPlace.hidden = false;
  undoPlace.replaceChildren(el("span", { role: "status" }, say("told_logged", { what: words })), back.length
    ? button([glyph("undo"), say("undo")], () => undo(words, back, undone), { kind: "secondary" }) : "");
}

async function undo(words, back, undone) {
  undoPlace.hidden = true;
  const codes = back.map((item) => item.tray);
  await app.log(back, { words: say("told_undone", { what: words }), back: [], then: async () => {
    if (undone) await app.kept(undone()); else codes.forEach(unlay);
    if (codes.includes(app.logged?.code)) app.logged = null;
    app.draw();
  } });
}

// The frame: strip, name, warnings that stand until they are over.
function drawFrame() {
  drawStrip(strip);
  const who = atBench();
  const name = who ? who.name || say("no_name") : say("who_is_here");
  // What is under a finger is left alone: a tap on what was replaced meanwhile counts for nothing.
  if (whoButton.dataset.name !== name) {
    whoButton.dataset.name = name;
    whoButton.replaceChildren(el("span", { class: "name" }, name), el("span", { class: "change" }, say(who ? "change" : "tap")));
  }
  const said = [...warnings(), ...(navigator.serviceWorker ? [] : [PLAIN])];
  const place = document.getElementById("warnings");
  const shown = said.filter((words) => !closed.has(words));
  if (place.dataset.said === shown.join("|")) return;
  place.dataset.said = shown.join("|");
  place.replaceChildren(...shown.map((words) => el("div", { class: "warning-line" }, glyph("caution"), el("p", {}, words),
    button(say("close"), () => { closed.add(words); keep("closed", { day: localDay(), words: [...closed] }).catch(() => {}); drawFrame(); }, { kind: "secondary" }))));
}

function redrawQuietly() {
  drawWhenReleased = pressed;
  if (pressed) return;
  const busy = document.activeElement?.matches?.("textarea, select, input:not(#scan)");
  if (!busy && (at.screen !== "tray" || app.logged)) (app.redraw || app.draw)();
  else app.remark?.();
}

async function scanned(text) {
  if (!text.trim()) return;
  const mine = exact(text.trim());
  const found = mine ? { kind: "own", code: mine.code } : readScan(text);
  if (found.kind === "badge") {
    const { words, known } = await badge(found.code);
    drawFrame();
    if (known && at.screen === "who") at.given.then();
    if (known) app.say(words); else app.complain(words);
    return;
  }
  if (found.kind === "wrong") {
    app.complain(found.words);
    return;
  }
  if (at.screen === "picking") {
    await app.drawn;
    app.takeScan?.(found.code);
    return;
  }
  await openScanned(found.code);
}

async function openScanned(code) {
  if (!find(code)) await app.fetchList();
  const tray = find(code);
  if (tray) {
    app.openTray(tray.code);
    return;
  }
  tell(say("no_such_tray", { code }), "trouble");
  told.append(button(say("log_all_the_same"), () => app.openTray(code), { kind: "secondary" }));
}

function openAddress() {
  const wanted = /^#t=(.+)$/.exec(location.hash);
  if (!wanted) return;
  history.replaceState(null, "", location.pathname);
  let code = wanted[1];
  try { code = decodeURIComponent(code); } catch { /* as it stands */ }
  scanned(code);
}

// Keys go to the scan field from wherever the focus is, so that a scanner always works.
document.addEventListener("keydown", (event) => {
  if (event.key.length !== 1 || event.key === " " || event.ctrlKey || event.altKey || event.metaKey) return;
  if (event.defaultPrevented || event.target.closest("input, select, textarea")) return;
  scan.focus({ preventScroll: true });
});
document.getElementById("scan-form").addEventListener("submit", (event) => {
  event.preventDefault();
  const text = scan.value;
  scan.value = "";
  scan.setAttribute("inputmode", "none");
  app.kept(scanned(text));
});
// The field takes a scanner's keys without a keyboard on the screen; the button brings that up for typing.
document.getElementById("keys").addEventListener("click", () => {
  scan.setAttribute("inputmode", "text");
  scan.blur();
  scan.focus();
});
strip.addEventListener("click", () => app.go("waiting"));
whoButton.addEventListener("click", () => app.askWho());
addEventListener("pointerdown", () => { pressed = true; }, true);
for (const over of ["pointerup", "pointercancel"]) {
  addEventListener(over, () => {
    pressed = false;
    if (drawWhenReleased) setTimeout(redrawQuietly);
  }, true);
}
addEventListener("hashchange", openAddress);
addEventListener("beforeunload", (event) => {
  if (standing.waiting + standing.stuck && !navigator.serviceWorker?.controller) event.preventDefault();
});
addEventListener("online", () => wake({ hurry: true }));
addEventListener("focus", () => wake());
document.addEventListener("visibilitychange", () => { if (!document.hidden) wake({ hurry: true }); });
setInterval(() => { if (!document.hidden) wake(); }, TICK_MS);

function wake(how) {
  send(how);
  drawFrame();
  if (Date.now() - listAsked > LIST_MS) app.fetchList();
}

onChange((items) => {
  if (items) {
    const unsent = new Set(items.map((record) => record.item.tray));
    const changed = [...unsent, ...app.unsent].some((code) => unsent.has(code) !== app.unsent.has(code));
    app.unsent = unsent;
    if (changed || at.screen === "waiting") redrawQuietly();
  }
  drawFrame();
});

async function formsBegun() {
  const [names, forms] = await reading(["kept"], ({ kept }) => Promise.all(["getAllKeys", "getAll"].map((how) => (
    new Promise((done, fail) => {
      const request = kept[how](IDBKeyRange.bound("form ", "form \uffff"));
      request.onsuccess = () => done(request.result);
      request.onerror = () => fail(request.error);
    })))));
  names.forEach((name, place) => { if (!isBlank(forms[place])) app.begun.add(name.slice("form ".length)); });
}

async function start() {
  ignoreRepeats(document);
  askToStay();
  navigator.serviceWorker?.register("/sw.js").catch(() => {});
  await app.kept(Promise.all([recall(), recallWho(), formsBegun()]));
  const shut = await app.kept(kept("closed"));
  if (shut?.day === localDay()) closed = new Set(shut.words);
  const items = (await app.kept(recount())) || [];
  items.forEach((record) => lay(record.item));
  await first(items);
  document.documentElement.dataset.ready = "yes";
  send({ hurry: true });
}

async function first() {
  if (isEmpty()) await app.fetchList(); else app.fetchList();
  drawFrame();
  if (atBench()) {
    app.draw();
    openAddress();
  } else app.askWho(openAddress);
  scan.focus({ preventScroll: true });
}

start();
