"use strict";
(function () {
  // paper is narrower than most screens: A4 and US Letter less their margins, at 96 pixels an inch
  const PAPER_PX = 680;
  // leaves room for the key on the same page
  const TALLEST_PX = 560;

  function all() {
    return Array.from(document.querySelectorAll(".js-plotly-plot"));
  }

  window.addEventListener("beforeprint", function () {
    all().forEach(function (plot) {
      const size = { width: Math.min(PAPER_PX, plot.clientWidth), height: Math.min(TALLEST_PX, plot.clientHeight) };
      Plotly.relayout(plot, Object.assign(size, { autosize: false }));
    });
  });
  window.addEventListener("afterprint", function () {
    all().forEach(function (plot) {
      Plotly.relayout(plot, { width: null, height: null, autosize: true }).then(function () { Plotly.Plots.resize(plot); });
    });
  });
})();
