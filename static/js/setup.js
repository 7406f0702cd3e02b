// Does this device take the word of the nursery's authority? Asks the server's health over https.
// The answer itself may not be read from another origin; that it came is all that is asked.
"use strict";

(() => {
  const light = document.getElementById("https-light");
  const button = document.getElementById("test-https");
  const PATIENCE_MS = 8000;

  const show = (state) => {
    light.dataset.is = state;
    for (const words of light.querySelectorAll("[data-words]")) {
      words.hidden = words.dataset.words !== state;
    }
  };

  const test = async () => {
    show("asking");
    const patience = new AbortController();
    const timer = setTimeout(() => patience.abort(), PATIENCE_MS);
    try {
      await fetch(light.dataset.address, {
        mode: "no-cors", cache: "no-store", credentials: "omit", signal: patience.signal,
      });
      show("works");
    } catch {
      show("fails");
    } finally {
      clearTimeout(timer);
    }
  };

  button.hidden = false;
  button.addEventListener("click", test);
  test();
})();
