// Plants leave a tray at the bench: pricked out into trays, or potted up. What left, and into which trays?

import { button, counted, el, glyph, tag } from "./bench_dom.js";
import { find, stranger } from "./bench_day.js";
import { newId } from "./bench_outbox.js";
import { keep, kept } from "./bench_store.js";

const MOST = 1_000_000;
const CAUTION = "Dry mix and old litter can carry Legionella and dust: wet the mix, do not breathe it, wash your hands. Mind the blade. Local rules decide.";
const KINDS = {
  prick_out: { head: "Prick out", left: "left this tray", into: "plants in it", done: "pricked out" },
  pot_up: { head: "Pot up", left: "left this tray", into: "pots in it", done: "potted up" },
};

const formName = (code, kind) => `picking ${kind} ${code}`;
const blank = () => ({ id: newId(), quantity: 0, trays: [], more: false, back: "" });

export async function showPicking(app, { code, kind }) {
  const tray = find(code) || stranger(code);
  const { turn } = app;
  const form = (await kept(formName(code, kind))) || blank();
  if (turn !== app.turn) return;
  const words = KINDS[kind];
  // Where a number was typed only the deed's button is drawn anew: the tap that leaves the field would miss it else.
  const changed = async (typed = false) => {
    if (typed) document.getElementById("log").replaceWith(deed(app, { tray, form, kind, words }));
    else draw();
    await app.kept(keep(formName(code, kind), form));
  };
  const draw = () => app.keepFocus(() => app.main.replaceChildren(page(app, { tray, form, kind, words, changed })));
  app.takeScan = (scanned) => {
    if (scanned === code) app.complain("This is the tray that the plants leave. Scan the tray they go into.");
    else if (!form.trays.some((one) => one.code === scanned)) {
      form.trays.push({ code: scanned, quantity: 0 });
      changed();
    }
  };
  app.redraw = draw;
  draw();
}

function page(app, { tray, form, kind, words, changed }) {
  const unit = tray.unit || "plants";
  return el("div", { class: "picking" },
    el("div", { class: "head" }, el("div", {}, el("h1", {}, `${words.head} ${tray.code}`),
      el("p", {}, "Say how many left, then scan or type the label of each tray they go into.")),
    button([glyph("back"), "Back"], () => { app.takeScan = null; app.goBack(); }, { kind: "secondary" })),
    el("p", { class: "caution-line" }, tag("caution", "Caution"), " ", CAUTION),
    el("h2", {}, `${unit[0].toUpperCase()}${unit.slice(1)} that ${words.left}`),
    stepper(form.quantity, `${unit} that ${words.left}`, (value, typed) => { form.quantity = value; changed(typed); }),
    Number.isInteger(tray.alive) ? el("p", {}, `The stock book says ${tray.alive} ${unit}.`) : "",
    el("h2", {}, counted(form.trays.length, "tray filled", "trays filled")),
    form.trays.length ? "" : el("p", {}, "None yet. The codes were laid out and printed before the tray was opened; scan the first."),
    form.trays.map((one, place) => el("div", { class: "filled" },
      el("p", {}, el("span", { class: "code" }, one.code || `Tray ${place + 1}, a code is given to it`), ` ${words.into}:`,
        button("Leave it out", () => { form.trays.splice(place, 1); changed(); }, { kind: "secondary" })),
      stepper(one.quantity, `${words.into}, ${one.code || place + 1}`, (value, typed) => { one.quantity = value; changed(typed); }))),
    el("div", { class: "button-row" },
      button("Type a code", () => document.getElementById("keys").click(), { kind: "secondary" }),
      button("A tray without a label", () => { form.trays.push({ code: "", quantity: 0 }); changed(); }, { kind: "secondary" }),
      el("button", { type: "button", class: "tick", "aria-pressed": String(form.more), tap: () => { form.more = !form.more; changed(); } },
        el("span", {}, "More to come")),
      form.more ? el("label", { class: "short" }, "Come back on ", el("input", {
        type: "date", value: form.back, onchange: (event) => { form.back = event.target.value; changed(true); } })) : ""),
    el("div", { class: "bar" }, deed(app, { tray, form, kind, words })));
}

function deed(app, given) {
  const { form, words } = given;
  const ready = form.quantity > 0 && form.trays.some((one) => one.quantity > 0);
  return button(`Log: ${form.quantity} ${words.done}`, () => save(app, given), { disabled: !ready, id: "log" });
}

function stepper(value, label, set) {
  const step = (by) => () => set(Math.min(MOST, Math.max(0, value + by)));
  return el("div", { class: "stepper", role: "group", "aria-label": label },
    button("−10", step(-10), { kind: "secondary", "data-at": `${label} -10` }), button("−1", step(-1), { kind: "secondary" }),
    el("input", { class: "number", inputmode: "numeric", autocomplete: "off", value: String(value), "aria-label": label,
      oninput: (event) => set(Math.min(MOST, Math.max(0, Math.trunc(Number(event.target.value)) || 0)), true) }),
    button("+1", step(1), { kind: "secondary" }), button("+10", step(10), { kind: "secondary" }));
}

async function save(app, { tray, form, kind, words }) {
  const trays = form.trays.filter((one) => one.quantity > 0).map(({ code, quantity }) => (code ? { code, quantity } : { quantity }));
  const item = { kind, id: form.id, tray: tray.code, quantity: form.quantity, trays,
    arrived: trays.reduce((sum, one) => sum + one.quantity, 0), more_to_come: form.more };
  if (form.more && form.back) item.come_back_on = form.back;
  const said = `${tray.code}: ${form.quantity} ${tray.unit || "plants"} ${words.done} into ${counted(trays.length, "tray")}.`;
  await app.log([item], { words: said, back: [], drop: formName(tray.code, kind), then: () => {
    app.takeScan = null;
    app.logged = null;
    app.go("tray", { code: tray.code });
  } });
}
