// On the pages that enrol a tablet or sign somebody in: do looks wait on this device, from when it was a bench tablet?
// They are only counted and, when asked, saved to a file; the bench page sends them once the tablet is enrolled again.
(() => {
  "use strict";
  const place = document.getElementById("kept-here");
  if (!place || !window.indexedDB) return;
  const NAME = "frondbook-bench";

  const ask = (request) => new Promise((done, fail) => {
    request.onsuccess = () => done(request.result);
    request.onerror = () => fail(request.error);
  });

  // The tablet's store, or null where this device never was a bench tablet.
  function openStore() {
    return new Promise((done, fail) => {
      const request = indexedDB.open(NAME);
      request.onupgradeneeded = () => request.transaction.abort();
      request.onsuccess = () => done(request.result);
      request.onerror = (event) => { event.preventDefault(); done(null); };
      request.onblocked = fail;
    });
  }

  async function save(base) {
    // From now on the times of these items hold as they are: in the file and when they are sent.
    const turn = base.transaction(["items", "kept"], "readwrite");
    const items = turn.objectStore("items");
    const records = await ask(items.index("seq").getAll());
    for (const record of records) items.put({ ...record, fixed: true });
    const [generation, skew] = await Promise.all(["generation", "skew"].map((name) => ask(turn.objectStore("kept").get(name))));
    const body = { sent_at: new Date().toISOString(), generation: generation ?? null, clock_off_ms: skew ?? 0,
      items: records.map((record) => record.item) };
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([JSON.stringify(body, null, 1)], { type: "application/json" }));
    link.download = `waiting-looks-${body.sent_at.slice(0, 10)}.json`;
    document.body.append(link);
    link.click();
    link.remove();
  }

  async function tell() {
    const base = await openStore();
    if (!base) return;
    const turn = base.transaction(["items", "photos"]);
    const [items, photos] = await Promise.all(["items", "photos"].map((name) => ask(turn.objectStore(name).getAll())));
    const pictures = photos.filter((photo) => photo.state === "waiting").length;
    if (!items.length && !pictures) return;
    // The words come with the page, in its language.
    const words = place.dataset;
    const counted = (number, one, many) => (number === 1 ? one : many).replace("{n}", number);
    const what = [items.length && counted(items.length, words.look, words.looks),
      pictures && counted(pictures, words.photo, words.photos)].filter(Boolean).join(` ${words.and} `);
    place.querySelector("p").textContent = (items.length + pictures === 1 ? words.waits : words.wait).replace("{what}", what);
    const button = place.querySelector("button");
    button.hidden = !items.length;
    button.addEventListener("click", () => save(base));
    place.hidden = false;
  }

  tell().catch(() => {});
})();
