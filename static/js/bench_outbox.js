// What was seen and done at the bench and waits for its answer?
//
// A record is {id, seq, item, at, session, perf, skew, state, message}: `item` is what the server gets, `at` the
// tablet's own time, `state` "waiting", or "refused" when the server could not read it; one that meets a fault of the server has
// `fails`, `after` and `stuck` as well (bench_faults.js). Nothing leaves before its own answer came; what was answered stays for 14 days.

import { SOUND, failed } from "./bench_faults.js";
import { all, ask, reading, writing } from "./bench_store.js";

const JOURNAL_MS = 14 * 24 * 3600 * 1000;
const MOST_APART_MS = 60_000;
const SET_BACK_MS = 5_000;
// names this opening of the page: only within it may two readings of performance.now be compared
export const SESSION = newId();

// A UUID of version 7 (RFC 9562). crypto.randomUUID is absent where the page came over plain http.
export function newId(now = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let place = 5, left = now; place >= 0; place -= 1, left = Math.floor(left / 256)) bytes[place] = left % 256;
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

// Keeps items and gives them back with id, number and time. `drop` names kept things that are done with (a form).
export async function add(items, { by, verified, skew, drop = "" }) {
  const at = Date.now();
  const perf = performance.now();
  return writing(["items", "photos", "kept"], async (stores) => {
    let seq = (await ask(stores.kept.get("seq"))) || 0;
    const made = [];
    for (const given of items) {
      seq += 1;
      const item = {
        id: newId(at), device_seq: seq, by: by || "", by_verified: Boolean(verified),
        occurred_at: new Date(at).toISOString(), ...given,
      };
      const record = { id: item.id, seq, item, at, perf, skew, session: SESSION, state: "waiting", message: "" };
      if (given.occurred_at) record.fixed = true;
      stores.items.put(record);
      made.push(record);
    }
    const own = new Set(made.map((record) => record.id));
    for (const photo of await ask(stores.photos.getAll())) {
      if (photo.state === "held" && own.has(photo.check)) stores.photos.put({ ...photo, state: "waiting" });
    }
    stores.kept.put(seq, "seq");
    if (drop) stores.kept.delete(drop);
    return made;
  });
}

// All that waits or was refused, oldest first.
export async function waiting() {
  return (await all("items")).sort((one, other) => one.seq - other.seq);
}

// What was answered with a message for the person here and was not read yet.
export async function unread() {
  const looks = await reading(["sent"], ({ sent }) => ask(sent.index("look").getAll(1)));
  return looks.sort((one, other) => one.seq - other.seq);
}

export async function journal() {
  return (await all("sent")).sort((one, other) => other.seq - one.seq);
}

// Fixes the times of what is sent for the first time. Afterwards they stay as they are: the same item sent twice must
// be the same, to the last letter. A clock that was set between the look and now is put right by what runs on without
// it (performance.now) or by how far it was off the server's before and is now; a tablet that slept shows neither.
export function fixTime(record, { now, perf, skew }) {
  if (record.fixed) return record;
  let at = record.at;
  if (record.session === SESSION) {
    const aged = perf - record.perf;
    if (aged > now - at + SET_BACK_MS) at = now - aged;
    else if (known(record.skew) && known(skew) && Math.abs(record.skew - skew) > MOST_APART_MS) at += record.skew - skew;
  }
  const item = { ...record.item, occurred_at: new Date(at).toISOString() };
  if (at !== record.at) item.occurred_at_device = new Date(record.at).toISOString();
  return { ...record, item, fixed: true };
}

const known = (number) => typeof number === "number";

export const keepTimes = (records) => writing(["items"], async ({ items }) => {
  for (const record of records) items.put(record);
});

const ANSWERED = new Set(["created", "duplicate", "merged", "review"]);

// Stores the answers: what was taken moves to the journal, what was refused or met a fault stays and says why. Gives how
// many of the sent records got an answer that can be read.
export async function answered(records, results, { now, generation }) {
  const byId = new Map(results.map((result) => [String(result?.id).toLowerCase(), result]));
  return writing(["items", "sent"], async (stores) => {
    let count = 0;
    for (const record of records) {
      const result = byId.get(record.id);
      if (!result) continue;
      const message = typeof result.message === "string" ? result.message : "";
      if (ANSWERED.has(result.status)) {
        const before = await ask(stores.sent.get(record.id));
        const look = result.status === "review" && !before?.read ? 1 : 0;
        stores.sent.put({ ...record, ...SOUND, state: result.status, message, look, read: before?.read, sentAt: now, generation });
        stores.items.delete(record.id);
      } else if (result.status === "rejected") {
        stores.items.put({ ...record, ...SOUND, state: "refused", message });
      } else if (result.status === "fault") {
        stores.items.put(failed(record, message, { look: true }));
      } else continue;
      count += 1;
    }
    return count;
  });
}

// A person has read what the server said of it.
export const haveRead = (id) => writing(["sent"], async ({ sent }) => {
  const record = await ask(sent.get(id));
  if (record) sent.put({ ...record, look: 0, read: true });
});

// Puts a refused item aside: it stays in the journal and is not sent any more.
export const putAside = (id) => writing(["items", "sent"], async (stores) => {
  const record = await ask(stores.items.get(id));
  if (!record) return;
  stores.sent.put({ ...record, state: "put aside", look: 0, read: true, sentAt: Date.now() });
  stores.items.delete(id);
});

// Another generation means: the server's records were put back to an older copy. All of the journal waits again.
export async function meetGeneration(generation) {
  return writing(["items", "sent", "photos", "kept"], async (stores) => {
    const before = await ask(stores.kept.get("generation"));
    if (before === generation) return 0;
    stores.kept.put(generation, "generation");
    if (before === undefined) return 0;
    let again = 0;
    for (const record of await ask(stores.sent.getAll())) {
      const answeredHere = record.generation === generation || record.state === "put aside";
      if (answeredHere || (await ask(stores.items.get(record.id)))) continue;
      stores.items.put({ ...record, state: "waiting", message: "", again: true });
      again += 1;
    }
    for (const photo of await ask(stores.photos.getAll())) {
      if (photo.state === "sent") stores.photos.put({ ...photo, state: "waiting" });
    }
    return again;
  });
}

// Forgets what was answered more than 14 days ago; with `room` true, pictures that were sent as well.
export const tidy = (now, { room = false } = {}) => writing(["sent", "photos", "bytes"], async (stores) => {
  for (const record of await ask(stores.sent.getAll())) {
    if (now - record.sentAt > JOURNAL_MS && !record.look) stores.sent.delete(record.id);
  }
  for (const photo of await ask(stores.photos.getAll())) {
    const sentLongAgo = photo.state === "sent" && (room || now - photo.sentAt > JOURNAL_MS);
    // A picture taken for a form that nobody ever saved.
    const forgotten = photo.state === "held" && now - photo.at > JOURNAL_MS;
    if (!sentLongAgo && !forgotten) continue;
    stores.photos.delete(photo.id);
    stores.bytes.delete(photo.id);
  }
});

// What a file of waiting items holds: the body of a message to the server, to be taken in by a manager. `skew` says
// how far the clock is behind the server's. The times are fixed as when sent: both ways must tell the same.
export async function asFile(skew, now = Date.now()) {
  const perf = performance.now();
  const records = (await waiting()).map((record) => fixTime(record, { now, perf, skew }));
  await keepTimes(records);
  const generation = await reading(["kept"], ({ kept }) => ask(kept.get("generation")));
  const items = records.map((record) => record.item);
  return JSON.stringify({ sent_at: new Date(now).toISOString(), generation: generation ?? null, clock_off_ms: skew ?? 0, items }, null, 1);
}
