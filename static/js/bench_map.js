// Opens a tray's card beside the map, and moves a tray: Move, then a free place.
// Without this script every cell is a link to its tray, where it can be moved by a form.
(() => {
  "use strict";
  const benches = document.getElementById("benches");
  const side = document.getElementById("tray-card-place");
  const bar = document.getElementById("move-bar");
  if (!benches || !side || !bar) return;
  // What is said stands in the bar's data, in the page's language.
  const words = bar.querySelector("p");
  let moving = null;

  // A cell tells its tray by its link, and its place by where it stands: it carries nothing else.
  const [before, behind] = benches.dataset.tray.split("CODE-HERE");
  const codeOf = (cell) => cell.getAttribute("href").slice(before.length, -behind.length);
  const cellsOf = (code) => benches.querySelectorAll('a.cell[href="' + CSS.escape(before + code + behind) + '"]');
  const gridOf = (bench) => {
    const plan = document.getElementById("bench-" + bench);
    return plan && plan.querySelector(".bench-grid");
  };
  const cellAt = ({ bench, row, column }) => {
    const line = gridOf(bench)?.rows[row - 1];
    return line?.cells[column]?.querySelector(".cell");
  };
  const placeOf = (cell) => {
    const here = cell.closest("td");
    const bench = cell.closest(".bench-plan").id.slice("bench-".length);
    return { bench, row: here.parentElement.rowIndex + 1, column: here.cellIndex };
  };

  const token = () => {
    const name = document.documentElement.dataset.csrfCookie || "csrftoken";
    const found = document.cookie.split("; ").find((part) => part.startsWith(name + "="));
    return found ? decodeURIComponent(found.slice(name.length + 1)) : "";
  };

  const say = (text) => {
    words.textContent = text;
    bar.hidden = false;
  };

  const stop = () => {
    moving?.cell?.classList.remove("picked");
    moving = null;
    bar.hidden = true;
  };

  const openCard = async (code) => {
    const address = benches.dataset.card.replace("CODE-HERE", encodeURIComponent(code));
    const answer = await fetch(address, { headers: { "X-Requested-With": "bench-map" } });
    if (!answer.ok) throw new Error(String(answer.status));
    side.innerHTML = await answer.text();
  };

  const moveTo = async (place) => {
    const to = placeOf(place);
    const body = new URLSearchParams({ tray: moving.code, revision: moving.revision, ...to });
    const answer = await fetch(benches.dataset.move + location.search, {
      method: "POST", body, headers: { "X-CSRFToken": token() },
    });
    const found = await answer.json();
    if (!answer.ok) {
      say(found.error);
      return;
    }
    const code = moving.code;
    stop();
    const touched = new Set();
    let wasLoose = found.places.length < 2;
    for (const one of found.places) {
      const old = cellAt(one);
      if (!old) {
        wasLoose = true;
        continue;
      }
      touched.add(gridOf(one.bench));
      old.outerHTML = one.html;
    }
    touched.forEach(ready);
    if (wasLoose) cellsOf(code).forEach((cell) => { if (!cell.closest("td")) cell.remove(); });
    say(found.message);
    // It was tapped just now, so it lies in sight.
    cellAt(to)?.focus({ preventScroll: true });
    await openCard(code);
  };

  // One stop of the Tab key a bench; the arrow keys go from place to place, Home and End along a row.
  const rest = (grid, cell) => {
    for (const other of grid.querySelectorAll('.cell[tabindex="0"]')) other.tabIndex = -1;
    cell.tabIndex = 0;
  };

  const ready = (grid) => {
    const cells = grid.querySelectorAll(".cell");
    const stop = grid.querySelector('.cell[tabindex="0"]') || grid.querySelector("a.cell") || cells[0];
    cells.forEach((cell) => { if (cell.tabIndex !== -1) cell.tabIndex = -1; });
    if (stop) stop.tabIndex = 0;
  };

  benches.querySelectorAll(".bench-grid").forEach((grid) => {
    grid.setAttribute("role", "grid");
    ready(grid);
  });

  const STEPS = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] };
  benches.addEventListener("keydown", (event) => {
    const cell = event.target.closest(".bench-grid .cell");
    if (!cell || event.ctrlKey || event.altKey || event.metaKey || event.shiftKey) return;
    const place = cell.closest("td");
    const row = place.parentElement;
    const grid = cell.closest(".bench-grid");
    let aim = null;
    if (STEPS[event.key]) {
      const there = grid.rows[row.rowIndex + STEPS[event.key][0]];
      aim = there && there.cells[place.cellIndex + STEPS[event.key][1]];
    } else if (event.key === "Home") aim = row.cells[1];
    else if (event.key === "End") aim = row.cells[row.cells.length - 1];
    else return;
    event.preventDefault();
    const found = aim && aim.querySelector(".cell");
    if (found) found.focus();
  });

  benches.addEventListener("focusin", (event) => {
    const grid = event.target.closest(".bench-grid");
    if (grid && event.target.matches(".cell")) rest(grid, event.target);
  });

  const failed = () => say(bar.dataset.unread);

  benches.addEventListener("click", (event) => {
    const cell = event.target.closest(".cell");
    if (!cell || event.ctrlKey || event.metaKey || event.shiftKey) return;
    if (cell.classList.contains("free")) {
      if (moving) moveTo(cell).catch(failed);
      else say(bar.dataset.free);
      return;
    }
    event.preventDefault();
    openCard(codeOf(cell)).catch(() => { location.href = cell.href; });
  });

  side.addEventListener("click", (event) => {
    if (event.target.closest("[data-close-card]")) {
      const shown = side.querySelector("[data-move-tray]");
      const cell = shown && cellsOf(shown.dataset.moveTray)[0];
      side.replaceChildren();
      if (cell) cell.focus();
      return;
    }
    const button = event.target.closest("[data-move-tray]");
    if (!button) return;
    stop();
    const code = button.dataset.moveTray;
    moving = { code, revision: button.dataset.revision, cell: cellsOf(code)[0] };
    moving.cell?.classList.add("picked");
    // On a phone the card lies over the map, and the free places are wanted now.
    if (matchMedia("(max-width: 59.99em)").matches) side.replaceChildren();
    say(bar.dataset.moving.replace("{code}", moving.code));
  });

  bar.querySelector("button").addEventListener("click", stop);
})();
