// What does this tablet keep when the power, the network or the server fails?
//
//   items   looks and deeds that have no answer yet, or were refused; key: their id
//   sent    what was answered, kept for 14 days: it refills a server that was restored from an older copy
//   photos  what is known of each picture, before and after it was sent; its bytes lie in `bytes`, so that pictures
//           can be counted without being read
//   kept    one thing each under a name: the day's list, who is at the bench, forms that were begun

import { say } from "./bench_words.js";

const NAME = "frondbook-bench";
const VERSION = 1;

let opening = null;

// Something could not be kept; its text is meant for the person at the bench.
export class NotKept extends Error {}

function connect() {
  opening ??= new Promise((done, fail) => {
    const request = indexedDB.open(NAME, VERSION);
    request.onupgradeneeded = () => {
      const made = request.result;
      made.createObjectStore("items", { keyPath: "id" }).createIndex("seq", "seq");
      made.createObjectStore("sent", { keyPath: "id" }).createIndex("look", "look");
      made.createObjectStore("photos", { keyPath: "id" });
      made.createObjectStore("bytes");
      made.createObjectStore("kept");
    };
    request.onsuccess = () => {
      const base = request.result;
      base.onclose = () => { opening = null; };
      base.onversionchange = () => { base.close(); opening = null; };
      done(base);
    };
    request.onerror = () => fail(request.error);
  });
  return opening;
}

async function reopen() {
  const before = opening;
  opening = null;
  try { (await before).close(); } catch { /* it was lost already */ }
}

async function once(mode, names, work) {
  const base = await connect();
  const turn = base.transaction(names, mode, { durability: "strict" });
  const ended = new Promise((done, fail) => {
    turn.oncomplete = done;
    turn.onabort = () => fail(turn.error || new Error(say("broken_off")));
  });
  ended.catch(() => {});
  let result;
  try {
    result = await work(Object.fromEntries(names.map((name) => [name, turn.objectStore(name)])));
  } catch (error) {
    try { turn.abort(); } catch { /* it ended by itself */ }
    throw error;
  }
  await ended;
  return result;
}

// Does `work` in one transaction and gives its result when that is on the disk. A connection that died (browsers drop
// them in the background) is opened anew, once. `work` waits for nothing but `ask(…)`.
async function run(mode, names, work) {
  try {
    return await once(mode, names, work);
  } catch {
    await reopen();
    try {
      return await once(mode, names, work);
    } catch (error) {
      opening = null;
      throw new NotKept(say("not_kept", { why: error?.message || error }));
    }
  }
}

export const ask = (request) => new Promise((done, fail) => {
  request.onsuccess = () => done(request.result);
  request.onerror = () => fail(request.error);
});

export const reading = (names, work) => run("readonly", names, work);
export const writing = (names, work) => run("readwrite", names, work);

export const kept = (name) => reading(["kept"], ({ kept: store }) => ask(store.get(name)));
export const keep = (name, value) => writing(["kept"], ({ kept: store }) => ask(
  value === undefined ? store.delete(name) : store.put(value, name)));
export const all = (name) => reading([name], (stores) => ask(stores[name].getAll()));

// The share of its room that the browser has used up, 0 to 1; null where it does not say (plain http).
export async function roomUsed() {
  try {
    const { usage, quota } = await navigator.storage.estimate();
    return quota ? usage / quota : null;
  } catch {
    return null;
  }
}

export function askToStay() {
  try { navigator.storage.persist().catch(() => {}); } catch { /* only where the connection is secure */ }
}
