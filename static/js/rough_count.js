// What do gaps, rows or eighths come to? Said while they are typed; the server reckons it again, so nothing depends on it.
(() => {
  "use strict";
  document.addEventListener("input", (event) => {
    const box = event.target.closest("[data-rough-count]");
    if (!box) return;
    const field = (name) => box.querySelector(`[name=${name}]`);
    const number = (name) => {
      const one = field(name);
      return one && one.value !== "" ? Number(one.value) : null;
    };
    const [gaps, rows, each, eighths] = ["gaps", "rows", "per_row", "eighths"].map(number);
    let sum = null;
    if (gaps !== null) sum = Number(field("gaps").dataset.cells) - gaps;
    else if (rows !== null && each !== null) sum = rows * each;
    else if (eighths !== null) sum = Math.floor((2 * eighths * Number(field("eighths").dataset.cells) + 8) / 16);
    const said = box.querySelector("[data-rough-sum]");
    said.hidden = sum === null || !(sum >= 0);
    if (!said.hidden) said.textContent = said.dataset.words.replace("0", sum);
  });
})();
