// Plants leave a tray at the bench: pricked out into trays, or potted up. What left, and into which trays?

import { button, el, glyph, localDay, tag } from "./bench_dom.js";
import { find, stranger, unpick } from "./bench_day.js";
import { newId } from "./bench_outbox.js";
import { keep, kept } from "./bench_store.js";
import { capital, counted, say, unitWords } from "./bench_words.js";

const MOST = 1_000_000;
// when a mat is commonly looked at for more to pick; the day can be changed
const MORE_AFTER_MS = 14 * 24 * 3600 * 1000;

const formName = (code, kind) => `picking ${kind} ${code}`;
const blank = (pot) => ({ id: newId(), quantity: 0, trays: [], more: false, back: "", pot: pot || "9 cm" });
// What is filled without a laid-out label has no pot size on record: it is asked.
const asksPot = (form, kind) => kind === "pot_up" && form.trays.some((one) => !one.code);

export async function showPicking(app, { code, kind }) {
  const tray = find(code) || stranger(code);
  const { turn } = app;
  const form = (await kept(formName(code, kind))) || blank(await kept("pot size"));
  if (turn !== app.turn) return;
  // Where a number was typed only the deed's button is drawn anew: the tap that leaves the field would miss it else.
  const changed = async (typed = false) => {
    if (typed) document.getElementById("log").replaceWith(deed(app, { tray, form, kind }));
    else draw();
    await app.kept(keep(formName(code, kind), form));
  };
  const draw = () => app.keepFocus(() => app.main.replaceChildren(page(app, { tray, form, kind, changed })));
  app.takeScan = (scanned) => {
    if (scanned === code) app.complain(say("same_tray"));
    else if (!form.trays.some((one) => one.code === scanned)) {
      form.trays.push({ code: scanned, quantity: 0 });
      changed();
    }
  };
  app.redraw = draw;
  draw();
}

function page(app, { tray, form, kind, changed }) {
  const left = say("left_this_tray", { unit: unitWords(tray) });
  const into = say(`into_${kind}`);
  return el("div", { class: "picking" },
    el("div", { class: "head" }, el("div", {}, el("h1", {}, `${say(kind)} ${tray.code}`),
      el("p", {}, say("picking_lead"))),
    button([glyph("back"), say("back")], () => { app.takeScan = null; app.goBack(); }, { kind: "secondary" })),
    el("p", { class: "caution-line" }, tag("caution", say("caution")), " ", say("caution_picking")),
    el("h2", {}, capital(left)),
    stepper(form.quantity, left, (value, typed) => { form.quantity = value; changed(typed); }),
    Number.isInteger(tray.alive) ? el("p", {}, say("stock_book_says", { n: tray.alive, unit: unitWords(tray) })) : "",
    el("h2", {}, counted(form.trays.length, "filled")),
    form.trays.length ? "" : el("p", {}, say("none_filled")),
    form.trays.map((one, place) => el("div", { class: "filled" },
      el("p", {}, el("span", { class: "code" }, one.code || say("tray_without_code", { n: place + 1 })), ` ${into}:`,
        button(say("leave_out"), () => { form.trays.splice(place, 1); changed(); }, { kind: "secondary" })),
      stepper(one.quantity, `${into}, ${one.code || place + 1}`, (value, typed) => { one.quantity = value; changed(typed); }))),
    asksPot(form, kind) ? el("label", { class: "short" }, say("pot_size"), " ", el("input", { id: "pot-size", maxlength: "20",
      autocomplete: "off", value: form.pot, oninput: (event) => { form.pot = event.target.value; changed(true); } })) : "",
    el("div", { class: "button-row" },
      button(say("type_code"), () => document.getElementById("keys").click(), { kind: "secondary" }),
      button(say("tray_without_label"), () => { form.trays.push({ code: "", quantity: 0 }); changed(); }, { kind: "secondary" }),
      el("button", { type: "button", class: "tick", "aria-pressed": String(form.more), tap: () => {
        form.more = !form.more;
        form.back ||= localDay(Date.now() + MORE_AFTER_MS);
        changed();
      } },
        el("span", {}, say("more_to_come"))),
      form.more ? el("label", { class: "short" }, say("come_back_on"), " ", el("input", {
        type: "date", value: form.back, min: localDay(), onchange: (event) => {
          form.back = event.target.value;
          form.more = Boolean(form.back);
          changed(form.more);
        } })) : ""),
    el("div", { class: "bar" }, deed(app, { tray, form, kind })));
}

function deed(app, given) {
  const { form, kind } = given;
  const ready = form.quantity > 0 && form.trays.some((one) => one.quantity > 0)
    && (!asksPot(form, kind) || form.pot.trim());
  return button(say(`log_${kind}`, { n: form.quantity }), () => save(app, given), { disabled: !ready, id: "log" });
}

function stepper(value, label, set) {
  const step = (by) => () => set(Math.min(MOST, Math.max(0, value + by)));
  return el("div", { class: "stepper", role: "group", "aria-label": label },
    button("−10", step(-10), { kind: "secondary", "data-at": `${label} -10` }), button("−1", step(-1), { kind: "secondary" }),
    el("input", { class: "number", inputmode: "numeric", autocomplete: "off", value: String(value), "aria-label": label,
      oninput: (event) => set(Math.min(MOST, Math.max(0, Math.trunc(Number(event.target.value)) || 0)), true) }),
    button("+1", step(1), { kind: "secondary" }), button("+10", step(10), { kind: "secondary" }));
}

async function save(app, { tray, form, kind }) {
  const trays = form.trays.filter((one) => one.quantity > 0).map(({ code, quantity }) => (
    code ? { code, quantity } : kind === "pot_up" ? { quantity, pot_size: form.pot.trim() } : { quantity }));
  if (asksPot(form, kind)) await app.kept(keep("pot size", form.pot.trim()));
  const item = { kind, id: form.id, tray: tray.code, quantity: form.quantity, trays,
    arrived: trays.reduce((sum, one) => sum + one.quantity, 0), more_to_come: form.more };
  if (form.more && form.back) item.come_back_on = form.back;
  const said = say(`told_${kind}`, { code: tray.code, n: form.quantity, unit: unitWords(tray), trays: counted(trays.length, "tray") });
  await app.log([item], { words: said, drop: formName(tray.code, kind),
    back: [{ kind: "strike_out", strikes_out: form.id, tray: tray.code }],
    // The form stands filled in again, for what was wrong in it; it is another picking then.
    undone: () => {
      unpick(item);
      return keep(formName(tray.code, kind), { ...form, id: newId() });
    },
    then: () => {
      app.takeScan = null;
      app.logged = null;
      app.go("tray", { code: tray.code });
    } });
}
