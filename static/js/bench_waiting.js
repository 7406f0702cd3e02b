// What waits on this tablet, what needs a look, and what was sent?

import { button, clockWords, el, glyph, tag } from "./bench_dom.js";
import { lookWords, unlay, unpick } from "./bench_day.js";
import { formFrom, formName } from "./bench_look.js";
import { asFile, haveRead, journal, putAside, unread, waiting } from "./bench_outbox.js";
import { copyPhotos, dropPhoto } from "./bench_photo.js";
import { recount, sendNow, standing } from "./bench_send.js";
import { all, keep } from "./bench_store.js";
import { sendWords, timeWords, warnings } from "./bench_strip.js";
import { say } from "./bench_words.js";

const SHOWN = 40;

export async function showWaiting(app) {
  const { turn } = app;
  const [records, looks, sent, photos] = await Promise.all([waiting(), unread(), journal(), all("photos")]);
  if (turn !== app.turn) return;
  const refused = records.filter((record) => record.state === "refused");
  const stuck = records.filter((record) => record.stuck);
  const waits = records.filter((record) => record.state === "waiting" && !record.stuck);
  const badPhotos = photos.filter((photo) => photo.state === "refused" || photo.stuck);
  const struck = new Set([...records, ...sent].filter((one) => one.item.kind === "strike_out").map((one) => one.item.strikes_out));
  const again = () => showWaiting(app);
  app.redraw = again;
  app.keepFocus(() => app.main.replaceChildren(...[
    el("div", { class: "head" }, el("div", {}, el("h1", {}, say("what_waits")), el("p", {}, sendWords().words, ". ", standing.problem)),
      button([glyph("back"), say("back")], () => app.goBack(), { kind: "secondary" })),
    warnings().map((words) => el("p", { class: "warning" }, glyph("caution"), words)),
    el("div", { class: "button-row" },
      button(say("send_now"), async () => { await sendNow(); again(); }),
      records.length ? button(say("save_to_file"), () => save(app), { kind: "secondary" }) : "",
      button(say("fetch_list"), async () => { await app.fetchList(); again(); }, { kind: "secondary" })),
    refused.length + stuck.length + looks.length + badPhotos.length ? el("section", {}, el("h2", {}, say("need_a_look")),
      el("ul", { class: "rows" },
        refused.map((record) => row(record, struck, [
          button(say("put_aside"), async () => { await app.kept(putAside(record.id)); await recount(); again(); }, { kind: "secondary" })])),
        stuck.map((record) => row(record, struck, changes(app, record, struck, again))),
        looks.map((record) => row(record, struck, [
          button(say("have_read"), async () => { await app.kept(haveRead(record.id)); await recount(); again(); }, { kind: "secondary" })])),
        badPhotos.map((photo) => el("li", { class: "waiting-row" }, el("div", {}, tag("trouble", say("photo_refused")), el("p", {}, photo.message),
          photo.stuck ? el("p", {}, stuckWords(photo)) : ""),
          button(say("drop_photo"), async () => {
            await app.kept(dropPhoto(photo.id));
            await recount();
            again();
          }, { kind: "secondary" }))))) : "",
    el("section", {}, el("h2", {}, say("waiting_n", { n: waits.length })),
      waits.length ? el("ul", { class: "rows" }, waits.slice(0, SHOWN).map((record) => row(record, struck, changes(app, record, struck, again))))
        : el("p", {}, say("nothing_waits_here")),
      waits.length > SHOWN ? el("p", {}, say("and_more", { n: waits.length - SHOWN })) : "",
      standing.photos ? el("p", {}, say("photos_wait", { n: standing.photos })) : ""),
    el("section", {}, el("h2", {}, say("sent_lately")),
      sent.length ? el("ul", { class: "rows" }, sent.slice(0, SHOWN).map((record) => row(record, struck, changes(app, record, struck, again))))
        : el("p", {}, say("nothing_yet")),
      sent.length > SHOWN ? el("p", {}, say("and_older", { n: sent.length - SHOWN })) : ""),
  ].flat(2).filter(Boolean)));
}

const STATES = {
  waiting: ["waiting", "not_sent"], refused: ["trouble", "refused"], review: ["trouble", "to_settle"],
  "put aside": ["ended", "was_put_aside"],
};

const stuckWords = (record) => say("stuck", { when: clockWords(Math.max(record.after, Date.now())) });

function row(record, struck, buttons) {
  const { item } = record;
  const [state, word] = record.stuck ? ["trouble", "met_fault"] : STATES[record.state] || ["sent", "sent"];
  return el("li", { class: "waiting-row", "data-id": record.id },
    el("div", {}, el("p", {}, el("span", { class: "code" }, item.tray || ""), " ", el("strong", {}, deedWords(item))),
      el("p", {}, `${timeWords(item.occurred_at)}${item.by ? `, ${item.by}` : ""}`),
      el("p", { class: "tags" }, tag(state, say(word)), struck.has(record.id) ? tag("ended", say("withdrawn")) : "",
        item.by && !item.by_verified ? say("not_proved") : ""),
      record.message ? el("p", { class: "said-by-server" }, record.message) : "",
      record.stuck ? el("p", {}, stuckWords(record)) : ""),
    el("div", { class: "button-row" }, buttons));
}

function deedWords(item) {
  if (item.kind === "check") return lookWords(item);
  if (item.kind === "isolate") return say(item.isolated ? "isolated" : "is_among_others");
  return say(`did_${item.kind}`, { n: item.quantity, bench: item.bench });
}

function changes(app, record, struck, again) {
  const { kind, glance } = record.item;
  if (struck.has(record.id) || !["check", "prick_out", "pot_up"].includes(kind)) return [];
  if (kind !== "check" || glance) return [withdraw(app, record, again)];
  return [
    button(say("change"), async () => {
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
  return button(say("withdraw"), () => app.log([{ kind: "strike_out", strikes_out: record.id, tray: record.item.tray }], {
    words: say("told_withdrawn", { code: record.item.tray }), back: [], then: () => {
      if (record.item.kind === "check") unlay(record.item.tray); else unpick(record.item);
      again();
    },
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
  app.say(say("told_file"));
}
