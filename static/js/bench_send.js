// How does what waits get to the server, whatever comes between?
//
// Lots of at most 50 in the order they were made, then pictures one by one. A lot that is too large, or meets a fault,
// is halved. When no answer of the nursery's comes, all stays and is tried again after 2 s, doubling to 60 s, at a
// random moment within. No number of failures ever drops anything.

import { SOUND, beginAnew, failsAlone, ready, rests, serverWorks, tryNow } from "./bench_faults.js";
import { SESSION, answered, fixTime, keepTimes, meetGeneration, tidy, unread, waiting } from "./bench_outbox.js";
import { all, ask, keep, kept, reading, roomUsed, writing } from "./bench_store.js";
import { say } from "./bench_words.js";

const MOST = 50;
const FIRST_WAIT_MS = 2_000;
const LONGEST_WAIT_MS = 60_000;
const PATIENCE_MS = 20_000;
const HELLO_EVERY_MS = 60_000;
const JUMP_MS = 5_000;
const TIDY_EVERY_MS = 3_600_000;

const FOREIGN = say("foreign");
const AWAY = say("away");
const BUSY = say("busy");
const STRANGER = say("stranger");
const REVOKED = say("revoked");

// How things stand; `tell` is called whenever one of them changes.
export const standing = {
  waiting: 0, photos: 0, refused: 0, stuck: 0, unread: 0, lastSent: null, skew: null, problem: "", stranger: false, sending: false,
  generation: null,
};
const listeners = [];
export const onChange = (listener) => listeners.push(listener);

let lot = MOST;
let failures = 0;
let notBefore = 0;
let lastHello = 0;
let lastTidy = 0;
let running = null;
let measured = null;
let again = false;

class NoAnswer extends Error {
  constructor(kind, words) {
    super(words);
    this.kind = kind;
  }
}

// How far the tablet's clock is behind the server's, in ms; null where it was never measured, or where the clock may
// have been set (or the tablet slept) since.
export function skewNow() {
  if (!measured) return null;
  const jump = (Date.now() - measured.at) - (performance.now() - measured.perf);
  return Math.abs(jump) < JUMP_MS ? standing.skew : null;
}

// Counts anew what is kept and tells the page.
export async function recount() {
  const [items, looks, photos] = await Promise.all([waiting(), unread(), all("photos")]);
  standing.refused = items.filter((record) => record.state === "refused").length;
  standing.stuck = items.filter((record) => record.stuck).length;
  standing.waiting = items.length - standing.refused - standing.stuck;
  standing.unread = looks.length;
  standing.photos = photos.filter((photo) => photo.state === "waiting" && !photo.stuck).length;
  standing.refusedPhotos = photos.filter((photo) => photo.state === "refused" || photo.stuck).length;
  standing.lastSent = (await kept("lastSent")) || null;
  standing.generation ??= (await kept("generation")) ?? null;
  for (const listener of listeners) listener(items);
  return items;
}

// Sends what waits; a second call while one runs makes it look once more. `hurry` does not wait for the next try.
export function send({ hurry = false } = {}) {
  if (hurry) notBefore = 0;
  if (running) {
    again = true;
    return running;
  }
  running = attempt().catch((error) => { standing.problem = error.message; }).finally(async () => {
    running = null;
    standing.sending = false;
    await recount().catch((error) => { standing.problem = error.message; });
    if (again) {
      again = false;
      send();
    }
  });
  return running;
}

// Sends all of it at once, what failed before as well: a person asks for it.
export async function sendNow() {
  await tryNow();
  await send({ hurry: true });
}

async function attempt() {
  const now = Date.now();
  const held = await holds();
  const nothing = !ready(held.items, 1).length && held.photos.every((photo) => rests(photo, now));
  if (now < notBefore || (nothing && now - lastHello < HELLO_EVERY_MS)) return;
  standing.sending = !nothing;
  for (const listener of listeners) listener();
  try {
    await hello(held);
    await sendItems();
    await sendPhotos();
    if (!nothing) await hello(await holds());
    if (now - lastTidy > TIDY_EVERY_MS) {
      await tidy(now, { room: (await roomUsed()) > 0.8 });
      lastTidy = now;
    }
    failures = 0;
    standing.problem = "";
    standing.stranger = false;
  } catch (error) {
    if (!(error instanceof NoAnswer)) throw error;
    standing.problem = error.message;
    standing.stranger = error.kind === "stranger";
    failures += 1;
    notBefore = Date.now() + Math.random() * Math.min(LONGEST_WAIT_MS, FIRST_WAIT_MS * 2 ** (failures - 1));
  }
}

async function holds() {
  const [items, photos] = await Promise.all([waiting(), all("photos")]);
  return { items: items.filter((one) => one.state === "waiting"), photos: photos.filter((one) => one.state === "waiting") };
}

async function hello({ items, photos }) {
  const before = Date.now();
  const { body } = await call(`/sync/hello?waiting=${items.length}&photos=${photos.length}`);
  if (typeof body.server_time !== "string") throw new NoAnswer("foreign", FOREIGN);
  lastHello = Date.now();
  await learn(body, (before + lastHello) / 2);
}

async function learn(body, at) {
  const time = Date.parse(body.server_time);
  if (!Number.isNaN(time)) {
    if (Math.abs((standing.skew ?? Infinity) - (time - at)) > 1000) await keep("skew", Math.round(time - at));
    standing.skew = time - at;
    measured = { at: Date.now(), perf: performance.now() };
  }
  if (body.generation === undefined || body.generation === null) return;
  standing.generation = body.generation;
  await meetGeneration(body.generation);
}

async function sendItems() {
  beginAnew();
  for (;;) {
    const records = ready(await waiting(), lot);
    if (!records.length) return;
    const now = Date.now();
    const perf = performance.now();
    const fixed = records.map((record) => fixTime(record, { now, perf, skew: standing.skew }));
    await keepTimes(fixed);
    let answer;
    try {
      answer = await call("/sync/", {
        method: "POST",
        body: JSON.stringify({
          sent_at: new Date(now).toISOString(), generation: standing.generation, page_session: SESSION,
          items: fixed.map((record) => record.item),
        }),
      });
    } catch (error) {
      if (error.kind !== "large" && error.kind !== "fault") throw error;
      if (fixed.length === 1 && error.kind === "large") await answered(fixed, [{ id: fixed[0].id, status: "rejected", message: error.message }], {});
      else if (fixed.length === 1 && await failsAlone("items", fixed[0].id, error.message)) throw error;
      lot = Math.max(1, Math.floor(fixed.length / 2));
      continue;
    }
    if (!Array.isArray(answer.body.results)) throw new NoAnswer("foreign", FOREIGN);
    const { generation } = answer.body;
    const count = await answered(fixed, answer.body.results, { now: Date.now(), generation });
    if (!count) throw new NoAnswer("foreign", FOREIGN);
    await serverWorks("items");
    await keep("lastSent", Date.now());
    await learn(answer.body, (now + Date.now()) / 2);
    lot = Math.min(MOST, lot * 2);
    await recount();
  }
}

async function sendPhotos() {
  beginAnew();
  const unsent = new Set((await waiting()).map((record) => record.id));
  for (const photo of await all("photos")) {
    if (photo.state !== "waiting" || rests(photo) || unsent.has(photo.check)) continue;
    let state = "sent";
    let message = "";
    try {
      const path = `/sync/photos/${photo.id}?check=${photo.check}`;
      const body = await reading(["bytes"], ({ bytes }) => ask(bytes.get(photo.id)));
      await call(path, { method: "PUT", body, type: photo.type });
    } catch (error) {
      if (error.kind === "unknown") continue;
      if (error.kind === "fault" && !(await failsAlone("photos", photo.id, error.message))) continue;
      if (error.kind !== "large" && error.kind !== "unfit") throw error;
      state = "refused";
      message = error.message;
    }
    await writing(["photos"], async ({ photos }) => {
      const stored = await ask(photos.get(photo.id));
      if (stored) photos.put({ ...stored, ...SOUND, state, message, sentAt: Date.now() });
    });
    await serverWorks("photos");
    await keep("lastSent", Date.now());
    await recount();
  }
}

// Asks the server and gives {status, body}; anything but an answer of the nursery's own is a NoAnswer.
export async function call(path, { method = "GET", body, type = "application/json", retried = false, etag = "" } = {}) {
  const headers = { Accept: "application/json" };
  if (body !== undefined) headers["Content-Type"] = type;
  if (method !== "GET") headers["X-CSRFToken"] = csrfToken();
  if (etag) headers["If-None-Match"] = etag;
  const patience = new AbortController();
  const timer = setTimeout(() => patience.abort(), PATIENCE_MS);
  let answer;
  let text;
  try {
    answer = await fetch(path, {
      method, headers, body, credentials: "same-origin", cache: "no-store", redirect: "error", signal: patience.signal,
    });
    text = await answer.text();
  } catch {
    throw new NoAnswer("away", AWAY);
  } finally {
    clearTimeout(timer);
  }
  if (answer.status === 304) return { status: 304, body: null, etag };
  const said = parsed(text);
  const words = typeof said?.error === "string" ? said.error : "";
  if (answer.ok && said !== null && typeof said === "object") {
    return { status: answer.status, body: said, etag: answer.headers.get("ETag") || "" };
  }
  if (answer.status === 401 && said) throw new NoAnswer("stranger", said.revoked ? REVOKED : STRANGER);
  if (answer.status === 413) throw new NoAnswer("large", words || say("too_large"));
  if (answer.status === 403 && method !== "GET" && (!said || said.stale_token) && !retried) {
    // The token was stale or the cookie is gone: asking sets it anew. The token is read when something is sent.
    await call("/sync/hello");
    return call(path, { method, body, type, retried: true });
  }
  if (answer.status === 404 && words) throw new NoAnswer("unknown", words);
  if (answer.status === 422 && words) throw new NoAnswer("unfit", words);
  if ([429, 502, 503, 504].includes(answer.status)) throw new NoAnswer("busy", words || BUSY);
  if (answer.status >= 500) throw new NoAnswer("fault", say("fault", { n: answer.status }));
  if (said && words) throw Object.assign(new NoAnswer("refused", words), { status: answer.status, body: said });
  throw new NoAnswer("foreign", FOREIGN);
}

function parsed(text) {
  try { return JSON.parse(text); } catch { return null; }
}

function csrfToken() {
  const wanted = document.documentElement.dataset.csrfCookie;
  for (const part of document.cookie.split(";")) {
    const cut = part.indexOf("=");
    const name = part.slice(0, cut).trim();
    if (cut > 0 && (wanted ? name === wanted : name.includes("csrf"))) return decodeURIComponent(part.slice(cut + 1).trim());
  }
  return "";
}
