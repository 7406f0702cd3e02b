// How does a picture get onto the tablet small enough to be sent? As a JPEG of at most 1,600 px; where it was taken and
// by which camera stays out of it.

import { newId } from "./bench_outbox.js";
import { ask, roomUsed, writing } from "./bench_store.js";
import { say } from "./bench_words.js";

const LONGEST = 1600;
const QUALITY = 0.85;
const FULL = 0.8;

export class NoPhoto extends Error {}

// Keeps a picture for a look that is not logged yet, and gives its id.
export async function keepPhoto(file, check) {
  if ((await roomUsed()) >= FULL) {
    throw new NoPhoto(say("store_full"));
  }
  const blob = await scaled(file);
  const photo = { id: newId(), check, type: blob.type, state: "held", at: Date.now() };
  const content = await blob.arrayBuffer();
  await writing(["photos", "bytes"], async ({ photos, bytes }) => {
    photos.put(photo);
    bytes.put(content, photo.id);
  });
  return photo.id;
}

export const dropPhoto = (id) => writing(["photos", "bytes"], async ({ photos, bytes }) => {
  photos.delete(id);
  bytes.delete(id);
});

// A look that is changed is a new one: it takes copies of the old one's pictures along. Gives their ids.
export const copyPhotos = (from, to) => writing(["photos", "bytes"], async ({ photos, bytes }) => {
  const copies = [];
  for (const photo of await ask(photos.getAll())) {
    if (photo.check !== from || photo.state === "refused") continue;
    const copy = { ...photo, id: newId(), check: to, state: "held", at: Date.now() };
    photos.put(copy);
    bytes.put(await ask(bytes.get(photo.id)), copy.id);
    copies.push(copy.id);
  }
  return copies;
});

async function scaled(file) {
  const address = URL.createObjectURL(file);
  try {
    const picture = new Image();
    picture.src = address;
    await picture.decode();
    const part = Math.min(1, LONGEST / Math.max(picture.naturalWidth, picture.naturalHeight));
    const canvas = document.createElement("canvas");
    canvas.width = Math.max(1, Math.round(picture.naturalWidth * part));
    canvas.height = Math.max(1, Math.round(picture.naturalHeight * part));
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise((done) => { canvas.toBlob(done, "image/jpeg", QUALITY); });
    if (!blob) throw new Error("empty");
    return blob;
  } catch {
    throw new NoPhoto(say("no_picture"));
  } finally {
    URL.revokeObjectURL(address);
  }
}
