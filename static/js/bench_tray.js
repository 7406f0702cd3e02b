// One tray in the hand: how it stands, the look that is logged, and which is next.

import { button, clockWords, dayWords, el, fernName, glyph, momentWords } from "./bench_dom.js";
import { find, lookWords, nextAfter, placeWords, stranger, today } from "./bench_day.js";
import { formName, formOf, isBlank, itemOf, keepForm, lookPanel, saveWords, stageToggles } from "./bench_look.js";
import { NoPhoto, dropPhoto, keepPhoto } from "./bench_photo.js";
import { marks, stageTag } from "./bench_round.js";
import { say, unitWords } from "./bench_words.js";

export async function showTray(app, { code }) {
  const tray = find(code) || stranger(code);
  const { turn } = app;
  const form = await formOf(tray.code);
  if (turn !== app.turn) return;
  if (form.photos.length && !app.begun.has(tray.code)) app.begun.add(tray.code);
  const draw = () => app.keepFocus(() => {
    app.main.replaceChildren(...(app.logged?.code === tray.code ? [done(app, tray)] : [open(app, tray, form, changed)]));
  });
  const changed = async () => {
    if (isBlank(form)) app.begun.delete(tray.code); else app.begun.add(tray.code);
    draw();
    await app.kept(keepForm(form, tray));
  };
  app.redraw = draw;
  app.remark = () => document.getElementById("marks")?.replaceChildren(...el("div", {}, marks(app, tray, { open: true })).childNodes);
  draw();
}

function open(app, tray, form, changed) {
  const saving = button(saveWords(form), () => save(app, tray, form), { kind: "save", id: "save" });
  return el("div", { class: "tray-screen" },
    card(app, tray, form, changed),
    el("div", { class: "work", oninput: () => { saving.textContent = saveWords(form); } }, lookPanel(form, tray, changed, deeds(app, tray))),
    el("div", { class: "bar" },
      photoButton(app, tray, form, changed),
      onward(app, tray),
      saving));
}

function card(app, tray, form, changed) {
  const last = tray.last_look
    ? say("last_look", { when: [dayWords(tray.last_look), tray.last_by].filter(Boolean).join(", "), what: tray.last_words || say("nothing_new") })
    : tray.unknown ? "" : say("nobody_looked");
  return el("article", { class: "tray-card", id: "tray-card" },
    el("h1", { class: "code" }, tray.code),
    tray.unknown
      ? el("p", {}, say("not_on_list"))
      : el("p", { class: "name" }, fernName(tray)),
    el("div", { class: "tags", id: "marks" }, marks(app, tray, { open: true })),
    warning(tray),
    tray.unknown ? "" : el("p", {}, stageTag(tray)),
    tray.unknown ? "" : el("p", {}, placeWords(tray), Number.isInteger(tray.alive) ? `; ${say("count", { n: tray.alive, unit: unitWords(tray) })}` : ""),
    stageToggles(form, tray, changed),
    tray.photo && app.reached() ? el("img", { class: "small-photo", src: tray.photo, alt: say("last_photo"), loading: "lazy" }) : "",
    el("p", {}, last),
    tray.why ? el("p", {}, tray.why) : "");
}

function warning(tray) {
  const shut = tray.shut_until && today().shut.find((one) => one.until === tray.shut_until);
  return [
    tray.shut_until ? el("p", { class: "warning", role: "alert" }, glyph("caution"),
      say("do_not_go_in", { until: [momentWords(tray.shut_until), shut?.why].filter(Boolean).join(": ") })) : "",
    tray.held ? el("p", { class: "warning" }, glyph("held"), say("is_held", { why: tray.held })) : "",
    tray.isolated ? el("p", { class: "warning" }, glyph("isolated"), say("isolated_look_last")) : "",
  ];
}

function photoButton(app, tray, form, changed) {
  const input = el("input", {
    type: "file", accept: "image/*", capture: "environment", class: "visually-hidden", tabindex: "-1", "aria-hidden": "true",
    id: "photo-file", onchange: async () => {
      const [file] = input.files;
      if (!file) return;
      try {
        form.photos.push(await keepPhoto(file, form.id));
        await changed();
      } catch (error) {
        app.complain(error instanceof NoPhoto ? error.message : `${error.message} ${say("photo_again")}`);
      }
    },
  });
  return [input,
    button([glyph("photo"), form.photos.length ? say("photos", { n: form.photos.length }) : say("photo")], () => input.click(), { kind: "secondary" }),
    form.photos.length ? button(say("drop_photo"), async () => {
      const id = form.photos.pop();
      await app.kept(dropPhoto(id));
      await changed();
    }, { kind: "secondary" }) : ""];
}

function deeds(app, tray) {
  if (tray.unknown) return [];
  const go = (screen, more = {}) => app.go(screen, { codes: [tray.code], code: tray.code, ...more });
  return [
    button([glyph("move"), say("move")], () => go("move"), { kind: "secondary" }),
    button([glyph("isolated"), say(tray.isolated ? "among_others" : "isolate")], () => app.log(
      [{ kind: "isolate", tray: tray.code, isolated: !tray.isolated }],
      { words: `${tray.code}: ${say(tray.isolated ? "is_among_others" : "isolated")}.`,
        back: [{ kind: "isolate", tray: tray.code, isolated: tray.isolated }], then: () => app.draw() }), { kind: "secondary" }),
    button([glyph("pricked_out"), say("prick_out")], () => go("picking", { kind: "prick_out" }), { kind: "secondary" }),
    button([glyph("potted_up"), say("pot_up")], () => go("picking", { kind: "pot_up" }), { kind: "secondary" }),
  ];
}

async function save(app, tray, form) {
  const item = itemOf(form, tray.code);
  const words = lookWords(item);
  const items = form.strikes ? [{ kind: "strike_out", strikes_out: form.strikes, tray: tray.code }, item] : [item];
  await app.log(items, {
    words: `${tray.code}: ${words}.`, drop: formName(tray.code),
    then: () => {
      app.begun.delete(tray.code);
      app.logged = { code: tray.code, words, at: Date.now() };
      app.draw();
    },
  });
}

// After the look: what was kept, and on to the next.
function done(app, tray) {
  const { words, at } = app.logged;
  return el("div", { class: "tray-done" },
    el("div", { class: "saved", role: "status" }, glyph("well", "large"),
      el("div", {}, el("h1", {}, el("span", { class: "code" }, tray.code), ` ${say("is_logged")}`),
        el("p", {}, `${clockWords(at)}: ${words}. `, say("safe_here")))),
    tray.isolated ? el("p", { class: "warning" }, glyph("isolated"), say("isolated_wash")) : "",
    el("div", { class: "bar" },
      button(say("look_again"), () => { app.logged = null; app.draw(); }, { kind: "secondary" }),
      button([glyph("back"), say("the_round")], () => app.go("round"), { kind: "secondary" }),
      onward(app, tray, "")));
}

// The way on: the next exception of a bench, or the next tray of the round.
function onward(app, tray, kind = "secondary") {
  const { queue } = app;
  if (queue) {
    const rest = queue.codes.filter((code) => code !== tray.code);
    if (!rest.length) return button([say("to_the_round"), glyph("next")], () => { app.queue = null; app.go("round"); }, { kind, id: "next" });
    return nextButton(app, rest[0], `${say("next_of", { n: rest.length })} `, kind);
  }
  const next = nextAfter(tray.code);
  return next && next.code !== tray.code ? nextButton(app, next.code, `${say("next")} `, kind)
    : button([say("the_round"), glyph("next")], () => app.go("round"), { kind, id: "next" });
}

function nextButton(app, code, before, kind) {
  const next = find(code);
  return button([el("span", {}, before, el("span", { class: "code" }, code), next ? el("small", {}, placeWords(next)) : ""), glyph("next")],
    () => app.openNext(code), { kind: `${kind} next`, id: "next" });
}
