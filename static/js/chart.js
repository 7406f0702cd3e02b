// Which figures stand on this page? Each chart names the JSON that the page brought along for it;
// what it says stands in the table before it, so that without this script nothing is missing.
(() => {
  "use strict";
  const options = { displayModeBar: false, responsive: true, displaylogo: false };

  function drawAll() {
    if (!window.Plotly) return;
    for (const place of document.querySelectorAll(".chart[data-figure]")) {
      const source = document.getElementById(place.dataset.figure);
      if (!source) continue;
      const figure = JSON.parse(source.textContent);
      place.hidden = false;
      window.Plotly.newPlot(place, figure.data, figure.layout, options).then(() => {
        place.dataset.drawn = "yes";
      });
    }
  }

  // A drawing keeps the width of the window it was drawn for; paper is narrower.
  const PAPER_PX = 650;
  function fit(layout) {
    for (const place of document.querySelectorAll(".chart[data-drawn]")) window.Plotly.relayout(place, layout);
  }
  addEventListener("beforeprint", () => fit({ autosize: false, width: PAPER_PX }));
  addEventListener("afterprint", () => fit({ autosize: true, width: undefined }));

  if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", drawAll);
  else drawAll();
})();
