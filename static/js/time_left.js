// How long does a code still work? Counts down beside it; the page says until when without this.
"use strict";

for (const place of document.querySelectorAll(".time-left")) {
  const until = performance.now() + Number(place.dataset.seconds) * 1000;
  const words = place.querySelector("span");
  const timer = setInterval(() => {
    const left = Math.max(0, Math.round((until - performance.now()) / 1000));
    words.textContent = `${Math.floor(left / 60)}:${String(left % 60).padStart(2, "0")}`;
    if (left === 0) {
      place.textContent = place.dataset.over;
      clearInterval(timer);
    }
  }, 1000);
}
