// What stands wrong on a page as it is laid out now? Run by tests/browser/test_every_page.py.
// Gives sentences; none when all is well.
() => {
  const said = [];
  const clipped = new Map();

  // The part of the window in which an element's content shows: what its ancestors do not cut off.
  function windowOf(element) {
    if (!element || element === document.documentElement) {
      return { left: -1e6, top: -1e6, right: 1e6, bottom: 1e6, shown: true, floats: false };
    }
    if (clipped.has(element)) return clipped.get(element);
    const outer = windowOf(element.parentElement);
    const style = getComputedStyle(element);
    const own = { ...outer };
    if (style.visibility === "hidden" || style.opacity === "0" || style.clipPath !== "none") own.shown = false;
    if (style.position === "sticky" || style.position === "fixed") own.floats = true;
    if (style.overflowX !== "visible" || style.overflowY !== "visible") {
      const box = element.getBoundingClientRect();
      own.left = Math.max(own.left, box.left);
      own.top = Math.max(own.top, box.top);
      own.right = Math.min(own.right, box.right);
      own.bottom = Math.min(own.bottom, box.bottom);
    }
    clipped.set(element, own);
    return own;
  }

  function cut(rect, seen) {
    return {
      left: Math.max(rect.left, seen.left), top: Math.max(rect.top, seen.top),
      right: Math.min(rect.right, seen.right), bottom: Math.min(rect.bottom, seen.bottom),
    };
  }

  // Every piece of text and every control, each with where it shows.
  const pieces = [];
  function take(element, rects, words) {
    const seen = windowOf(element);
    if (!seen.shown || seen.floats || element.closest("svg") || !element.checkVisibility()) return;
    for (const rect of rects) {
      const box = cut(rect, seen);
      if (box.right - box.left > 1 && box.bottom - box.top > 1) pieces.push({ ...box, element, words });
    }
  }
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const words = node.textContent.trim();
    if (!words || node.parentElement.closest("script, noscript, option, template")) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    take(node.parentElement, range.getClientRects(), words.slice(0, 40));
  }
  for (const control of document.querySelectorAll("input, select, textarea")) {
    if (control.type !== "hidden") take(control, control.getClientRects(), control.name || control.id);
  }

  pieces.sort((one, other) => one.top - other.top);
  for (let at = 0; at < pieces.length; at += 1) {
    const one = pieces[at];
    for (let next = at + 1; next < pieces.length && pieces[next].top < one.bottom - 3; next += 1) {
      const other = pieces[next];
      const across = Math.min(one.right, other.right) - Math.max(one.left, other.left);
      const down = Math.min(one.bottom, other.bottom) - other.top;
      if (across > 3 && down > 3 && one.element !== other.element) {
        said.push("“" + one.words + "” and “" + other.words + "” lie over each other");
      }
    }
  }

  const page = document.documentElement;
  const over = page.scrollWidth - page.clientWidth;
  if (over > 0) {
    const wide = [...document.querySelectorAll("main *")].find((element) => {
      const seen = windowOf(element.parentElement);
      return Math.min(element.getBoundingClientRect().right, seen.right) > page.clientWidth + 1;
    });
    said.push("the page scrolls sideways by " + over + " px" + (wide ? ": " + wide.outerHTML.slice(0, 80) : ""));
  }
  for (const table of document.querySelectorAll(".table.cards")) {
    const box = table.parentElement;
    if (getComputedStyle(table).display === "block" && box.scrollWidth > box.clientWidth) {
      said.push("cards are cut off: " + table.textContent.trim().slice(0, 40));
    }
  }
  return said.slice(0, 5);
}
