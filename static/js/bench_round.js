// Which tray is next, and how does a whole bench go in three taps?

import { button, clockWords, el, fernName, glyph, momentWords, tag, toggle } from "./bench_dom.js";
import { benches, find, isDue, isEmpty, isLate, listFrom, placeWords, stageWords, today } from "./bench_day.js";
import { capital, counted, say } from "./bench_words.js";

const ROWS = 30;

// The list of the round: what is due in walking order, or bench by bench.
export function showRound(app) {
  const due = today().trays.filter((tray) => isDue(tray));
  const view = app.roundView || "due";
  const views = el("div", { class: "button-row views", role: "group", "aria-label": say("what_to_list") },
    toggle(say("tray_by_tray"), view === "due", () => { app.roundView = "due"; app.draw(); }),
    toggle(say("bench_by_bench"), view === "benches", () => { app.roundView = "benches"; app.draw(); }));
  const late = due.filter(isLate).length;
  const lead = isEmpty()
    ? say("no_list")
    : late ? `${counted(due.length, "due")}, ${say("of_them_late", { n: late })}.` : `${counted(due.length, "due")}.`;
  app.main.replaceChildren(
    el("div", { class: "head" }, el("div", {}, el("h1", {}, say("the_round")),
      el("p", {}, lead, listFrom() ? ` ${say("list_of", { hour: clockWords(listFrom()) })}` : "")), views),
    ...today().shut.map((house) => el("p", { class: "warning" }, glyph("shut"),
      say("house_is_shut", { house: house.house, day: momentWords(house.until), why: house.why }))),
    view === "due" ? dueRows(app, due) : benchRows(app),
  );
}

function dueRows(app, due) {
  if (!due.length && !isEmpty()) {
    return el("div", { class: "empty" }, el("h2", {}, say("round_done")),
      el("p", {}, say("nothing_due")));
  }
  const most = app.rows || ROWS;
  const list = el("ul", { class: "rows" });
  let bench = null;
  for (const tray of due.slice(0, most)) {
    if (tray.bench !== bench) {
      bench = tray.bench;
      list.append(el("li", { class: "place" }, today().bench_names[bench] || bench || capital(say("no_bench"))));
    }
    list.append(el("li", {}, trayRow(app, tray)));
  }
  if (due.length > most) {
    list.append(el("li", {}, button(say("show_more", { n: Math.min(ROWS, due.length - most), m: due.length - most }),
      () => { app.rows = most + ROWS; app.draw(); }, { kind: "secondary" })));
  }
  return list;
}

function trayRow(app, tray) {
  return el("button", { type: "button", class: "tray-row", "data-code": tray.code, tap: () => app.openTray(tray.code) },
    glyph(tray.stage || "mark", "large"),
    el("span", { class: "what" }, el("span", { class: "code" }, tray.code), fernName(tray)),
    el("span", { class: "why" }, tray.why || ""),
    el("span", { class: "tags" }, marks(app, tray)));
}

// What stands out about a tray, each by shape, word and colour.
export function marks(app, tray, { open = false } = {}) {
  return [
    app.unsent.has(tray.code) && tag("waiting", say("not_sent")),
    !open && app.begun.has(tray.code) && tag("note", say("begun")),
    isLate(tray) && tag("late", say("late")),
    tray.isolated && tag("isolated", say("isolated")),
    tray.shut_until && tag("shut", say("shut")),
    tray.control && tag("control", say("control")),
    tray.unlabelled && tag("unlabelled", say("no_label")),
  ].filter(Boolean);
}

function benchRows(app) {
  return el("ul", { class: "rows" }, benches().map((bench) => {
    const due = bench.trays.filter((tray) => isDue(tray)).length;
    return el("li", { class: "bench-row" },
      el("div", {}, el("strong", {}, bench.name), el("p", {}, say("trays_and_due", { trays: counted(bench.trays.length, "tray"), n: due }))),
      button(say("look_it_over"), () => app.openBench(bench.code), { "aria-label": say("look_over", { bench: bench.name }) }));
  }));
}

// One bench: tick what is not well, and all the others are looked over at once.
export function showBench(app, code) {
  const bench = benches().find((one) => one.code === code) || { name: code, trays: [] };
  const ticked = app.ticked;
  const shut = bench.trays.filter((tray) => tray.shut_until);
  const apart = bench.trays.filter((tray) => tray.isolated && !tray.shut_until);
  const well = bench.trays.filter((tray) => !tray.shut_until && !tray.isolated && !ticked.has(tray.code));
  const tiles = bench.trays.map((tray) => el("li", {}, el("button", {
    type: "button", class: "tick tray-tick", "aria-pressed": String(ticked.has(tray.code)), "data-code": tray.code,
    tap: () => { if (!ticked.delete(tray.code)) ticked.add(tray.code); app.draw(); },
  }, el("span", {}, glyph(tray.stage || "mark"), el("span", { class: "code" }, tray.code), marks(app, tray)))));
  const some = [...ticked].map(find).filter(Boolean);
  app.main.replaceChildren(
    el("div", { class: "head" }, el("div", {}, el("h1", {}, bench.name),
      el("p", {}, say("tick_not_well")),
      shut.length ? el("p", {}, tag("shut", say("shut")), ` ${say("shut_left_out", { trays: counted(shut.length, "tray"), day: momentWords(shut[0].shut_until) })}`) : "",
      apart.length ? el("p", {}, tag("isolated", say("isolated")), ` ${say("apart_left_out", { trays: counted(apart.length, "tray") })}`) : ""),
    button([glyph("back"), say("the_round")], () => app.go("round"), { kind: "secondary" })),
    el("ul", { class: "tiles trays" }, tiles),
    el("div", { class: "bar" },
      some.length ? button(say("open_trays", { trays: counted(some.length, "tray") }), () => app.openOneByOne(some.map((tray) => tray.code), code), { kind: "secondary" }) : "",
      some.length ? button(say("move"), () => app.go("move", { codes: [...ticked], bench: code }), { kind: "secondary" }) : "",
      some.length ? button(say(some.every((tray) => tray.isolated) ? "among_others" : "isolate"), () => isolate(app, some), { kind: "secondary" }) : "",
      button(say(some.length ? "all_well_except" : "all_well"), () => lookedOver(app, { code, bench, well, some }), { disabled: !well.length }),
    ),
  );
}

async function lookedOver(app, { code, bench, well, some }) {
  const items = well.map((tray) => ({ kind: "check", tray: tray.code, glance: true }));
  const words = say("told_looked_over", { bench: bench.name, trays: counted(well.length, "tray") });
  await app.log(items, { words, then: () => {
    if (some.length) app.openOneByOne(some.map((tray) => tray.code), code);
    else app.go("round");
  } });
}

async function isolate(app, trays) {
  const isolated = !trays.every((tray) => tray.isolated);
  const items = trays.map((tray) => ({ kind: "isolate", tray: tray.code, isolated }));
  const back = trays.map((tray) => ({ kind: "isolate", tray: tray.code, isolated: Boolean(tray.isolated) }));
  const names = trays.length === 1 ? trays[0].code : counted(trays.length, "tray");
  await app.log(items, { words: `${names}: ${say(isolated ? "isolated" : "is_among_others")}.`, back, then: () => app.draw() });
}

// Where to: a bench, and for a single tray its row and column.
export function showMove(app, { codes, bench }) {
  const trays = codes.map(find).filter(Boolean);
  const places = { row: "", column: "" };
  const numbers = codes.length === 1 ? el("div", { class: "button-row" }, Object.keys(places).map((which) => el("label", { class: "short" },
    say(`${which}_asked`), " ",
    el("input", { inputmode: "numeric", maxlength: "3", autocomplete: "off", oninput: (event) => { places[which] = event.target.value; } })))) : "";
  const to = Object.entries(today().bench_names).map(([code, name]) => el("li", {}, el("button", {
    type: "button", class: "tile", disabled: codes.length > 1 && code === bench, tap: () => moveTo(app, trays, code, places, bench),
  }, name)));
  app.main.replaceChildren(
    el("h1", {}, say("move_what", { what: codes.length === 1 ? codes[0] : counted(codes.length, "tray") })),
    el("p", {}, codes.length === 1 && trays[0] ? say("where_to", { place: placeWords(trays[0]) }) : say("which_bench")),
    numbers,
    el("ul", { class: "tiles" }, to),
    el("div", { class: "bar" }, button([glyph("back"), say("leave_them")], () => app.goBack(), { kind: "secondary" })),
  );
}

async function moveTo(app, trays, bench, places, from) {
  const whole = (text) => (/^[1-9]\d*$/.test(text.trim()) ? Number(text) : undefined);
  const item = (tray, place) => JSON.parse(JSON.stringify({ kind: "move", tray: tray.code, ...place }));
  const items = trays.map((tray) => item(tray, { bench, row: whole(places.row), column: whole(places.column) }));
  const back = trays.filter((tray) => tray.bench).map((tray) => item(tray, {
    bench: tray.bench, row: tray.row ?? undefined, column: tray.column ?? undefined }));
  const names = trays.length === 1 ? trays[0].code : counted(trays.length, "tray");
  const words = say("told_moved", { what: names, bench: today().bench_names[bench] });
  await app.log(items, { words, back, then: () => { app.ticked.clear(); if (from === undefined) app.goBack(); else app.openBench(from); } });
}

export const stageTag = (tray) => el("span", { class: "stage" }, glyph(tray.stage || "mark"),
  tray.stage_label || stageWords(tray.stage));
