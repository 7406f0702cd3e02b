// What waits on this tablet, what needs a look, and what was sent?

import { button, el, glyph, tag } from "./bench_dom.js";
import { lookWords, unlay } from "./bench_day.js";
import { formFrom, formName } from "./bench_look.js";
import { asFile, haveRead, journal, putAside, unread, waiting } from "./bench_outbox.js";
import { copyPhotos, dropPhoto } from "./bench_photo.js";
import { recount, send, standing } from "./bench_send.js";
import { all, keep } from "./bench_store.js";
import { sendWords, timeWords, warnings } from "./bench_strip.js";

const SHOWN = 40;

export async function showWaiting(app) {
  const { turn } = app;
  const [records, looks, sent, photos] = await Promise.all([waiting(), unread(), journal(), all("photos")]);
  if (turn !== app.turn) return;
  const refused = records.filter((record) => record.state === "refused");
  const waits = records.filter((record) => record.state === "waiting");
  const badPhotos = photos.filter((photo) => photo.state === "refused");
  const struck = new Set([...records, ...sent].filter((one) => one.item.kind === "strike_out").map((one) => one.item.strikes_out));
  const again = () => showWaiting(app);
  app.redraw = again;
  app.keepFocus(() => app.main.replaceChildren(...[
    el("div", { class: "head" }, el("div", {}, el("h1", {}, "What waits here"), el("p", {}, sendWords().words, ". ", standing.problem)),
      button([glyph("back"), "Back"], () => app.goBack(), { kind: "secondary" })),
    warnings().map((words) => el("p", { class: "warning" }, glyph("caution"), words)),
    el("div", { class: "button-row" },
      button("Send now", async () => { await send({ hurry: true }); again(); }),
      records.length ? button("Save waiting items to a file", () => save(app), { kind: "secondary" }) : "",
      button("Fetch the list anew", async () => { await app.fetchList(); again(); }, { kind: "secondary" })),
    refused.length + looks.length + badPhotos.length ? el("section", {}, el("h2", {}, "Need a look"),
      el("ul", { class: "rows" },
        refused.map((record) => row(record, struck, [
          button("Put aside", async () => { await app.kept(putAside(record.id)); await recount(); again(); }, { kind: "secondary" })])),
        looks.map((record) => row(record, struck, [
          button("I have read it", async () => { await app.kept(haveRead(record.id)); await recount(); again(); }, { kind: "secondary" })])),
        badPhotos.map((photo) => el("li", { class: "waiting-row" }, el("div", {}, tag("trouble", "photo not taken"), el("p", {}, photo.message)),
          button("Drop the photo", async () => {
            await app.kept(dropPhoto(photo.id));
            await recount();
            again();
          }, { kind: "secondary" }))))) : "",
    el("section", {}, el("h2", {}, `Waiting: ${waits.length}`),
      waits.length ? el("ul", { class: "rows" }, waits.slice(0, SHOWN).map((record) => row(record, struck, changes(app, record, struck, again))))
        : el("p", {}, "Nothing waits."),
      waits.length > SHOWN ? el("p", {}, `And ${waits.length - SHOWN} more.`) : "",
      standing.photos ? el("p", {}, `${standing.photos} photos wait, too; they go after the looks. A file holds the looks alone.`) : ""),
    el("section", {}, el("h2", {}, "Sent in the last 14 days"),
      sent.length ? el("ul", { class: "rows" }, sent.slice(0, SHOWN).map((record) => row(record, struck, changes(app, record, struck, again))))
        : el("p", {}, "Nothing yet."),
      sent.length > SHOWN ? el("p", {}, `And ${sent.length - SHOWN} older ones.`) : ""),
  ].flat(2).filter(Boolean)));
}

const STATES = {
  waiting: ["waiting", "not yet sent"], refused: ["trouble", "refused"], review: ["trouble", "to settle"],
  "put aside": ["ended", "put aside"],
};

function row(record, struck, buttons) {
  const { item } = record;
  const [state, word] = STATES[record.state] || ["sent", "sent"];
  return el("li", { class: "waiting-row", "data-id": record.id },
    el("div", {}, el("p", {}, el("span", { class: "code" }, item.tray || ""), " ", el("strong", {}, deedWords(item))),
      el("p", {}, `${timeWords(item.occurred_at)}${item.by ? `, ${item.by}` : ""}`),
      el("p", { class: "tags" }, tag(state, word), struck.has(record.id) ? tag("ended", "withdrawn") : "",
        item.by && !item.by_verified ? "name not proven" : ""),
      record.message ? el("p", { class: "said-by-server" }, record.message) : ""),
    el("div", { class: "button-row" }, buttons));
}

function deedWords(item) {
  if (item.kind === "check") return lookWords(item);
  const words = { strike_out: "a look withdrawn", move: `moved to ${item.bench}`, prick_out: `${item.quantity} pricked out`,
    pot_up: `${item.quantity} potted up`, isolate: item.isolated ? "isolated" : "back among the others" };
  return words[item.kind] || item.kind;
}

function changes(app, record, struck, again) {
  if (record.item.kind !== "check" || struck.has(record.id) || record.item.glance) {
    return record.item.kind === "check" && !struck.has(record.id) ? [withdraw(app, record, again)] : [];
  }
  return [
    button("Change", async () => {
      const form = formFrom(record.item);
      form.photos = (await app.kept(copyPhotos(record.id, form.id))) || [];
      await app.kept(keep(formName(record.item.tray), form));
      app.logged = null;
      app.begun.add(record.item.tray);
      app.go("tray", { code: record.item.tray });
    }, { kind: "secondary" }),
    withdraw(app, record, again),
  ];
}

function withdraw(app, record, again) {
  return button("Withdraw", () => app.log([{ kind: "strike_out", strikes_out: record.id, tray: record.item.tray }], {
    words: `${record.item.tray}: the look is withdrawn.`, back: [], then: () => { unlay(record.item.tray); again(); },
  }), { kind: "secondary" });
}

async function save(app) {
  const text = await app.kept(asFile(standing.skew));
  if (!text) return;
  const address = URL.createObjectURL(new Blob([text], { type: "application/json" }));
  const link = el("a", { href: address, download: `waiting-looks-${new Date().toISOString().slice(0, 10)}.json` });
  document.body.append(link);
  link.click();
  link.remove();
  setTimeout(() => URL.revokeObjectURL(address), 60_000);
  app.say("The file holds what waits. It stays here as well until it is sent; a manager can take the file in under Tablets.");
}
