"use strict";
(function () {
  function draw(element) {
    const data = JSON.parse(document.getElementById(element.id + "-data").textContent);
    const narrow = element.clientWidth < 600;
    if (narrow) {
      data.layout.xaxis.nticks = 5;
      data.layout.annotations.forEach(function (each) { each.font.size = 11; });
    }
    Plotly.newPlot(element, data.traces, data.layout, { responsive: true, displayModeBar: false, doubleClick: false })
      .then(function () {
        const buttons = Array.from(document.querySelectorAll('button[data-figure="' + element.id + '"]'));
        buttons.forEach(function (button) {
          button.addEventListener("click", function () {
            Plotly.relayout(element, { "xaxis.range": [button.dataset.start, button.dataset.stop] });
            buttons.forEach(function (each) { each.setAttribute("aria-pressed", each === button ? "true" : "false"); });
          });
        });
        element.setAttribute("data-drawn", "true");
      });
  }

  document.querySelectorAll(".course").forEach(draw);
})();
