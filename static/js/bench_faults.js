// One look or deed always meets a fault of the nursery's computer: which is it, and how do all the others go on?
//
// Where the server answers a lot with a fault (500), the lot is halved until one item fails alone. It goes behind the
// others, waits longer each time, and is never dropped. Two that fail alone with nothing taken between them look like a
// server that is down: then everything waits. A failing item needs a look once another one was taken, or it failed
// alone three times.

import { ask, writing } from "./bench_store.js";

const FIRST_PAUSE_MS = 60_000;
const LONGEST_PAUSE_MS = 3_600_000;
const FAILS_FOR_A_LOOK = 3;

const suspects = new Set();

// What a record is that fails no more.
export const SOUND = { fails: 0, after: 0, stuck: false };

// What may be sent now, at most `most`, oldest first; one that failed comes after all others, and alone.
export function ready(records, most, now = Date.now()) {
  const sound = records.filter((record) => record.state === "waiting" && !record.fails);
  if (sound.length) return sound.slice(0, most);
  return records.filter((record) => record.state === "waiting" && !rests(record, now)).slice(0, 1);
}

// Whether one that failed waits for its next try; not for ever, where the tablet's clock was set back.
export const rests = ({ after = 0 }, now = Date.now()) => after > now && after <= now + LONGEST_PAUSE_MS;

// A record or photo as it is after one more failure.
export function failed(record, message, { look = false, now = Date.now() } = {}) {
  const fails = (record.fails || 0) + 1;
  const after = now + Math.min(LONGEST_PAUSE_MS, FIRST_PAUSE_MS * 2 ** (fails - 1));
  return { ...record, fails, after, message, stuck: Boolean(record.stuck) || look || fails >= FAILS_FOR_A_LOOK };
}

// One failed alone. Gives whether the server looks as if it were down; then it is no fault of this one.
export async function failsAlone(store, id, message) {
  if (suspects.size) return true;
  await change(store, [id], (record) => failed(record, message));
  suspects.add(id);
  return false;
}

// The server took something: those that failed alone before it are at fault themselves.
export async function serverWorks(store) {
  const ids = [...suspects];
  suspects.clear();
  if (ids.length) await change(store, ids, (record) => (record.fails ? { ...record, stuck: true } : record));
}

// A new attempt begins: who failed in one before proves nothing of the server now.
export const beginAnew = () => suspects.clear();

// A person wants all of it tried now.
export const tryNow = () => writing(["items", "photos"], async (stores) => {
  for (const store of Object.values(stores)) {
    for (const record of await ask(store.getAll())) if (record.after) store.put({ ...record, after: 0 });
  }
});

const change = (name, ids, how) => writing([name], async ({ [name]: store }) => {
  for (const id of ids) {
    const record = await ask(store.get(id));
    if (record) store.put(how(record));
  }
});
