"use strict";
(function () {
  const POINTS_A_PIXEL_COLUMN = 2;
  const NOTHING_KNOWN_DEG = 90;

  function sixteenBits(text, step) {
    const raw = atob(text);
    const bytes = new Uint8Array(raw.length);
    for (let i = 0; i < raw.length; i += 1) bytes[i] = raw.charCodeAt(i);
    const view = new DataView(bytes.buffer);
    const values = new Float32Array(bytes.length / 2);
    for (let i = 0; i < values.length; i += 1) values[i] = view.getInt16(2 * i, true) * step;
    return values;
  }

  // the lowest and the highest sample of each pixel column, in their order, so that no peak is hidden
  function reduced(data, from, to, columns) {
    const first = Math.max(0, Math.floor((from - data.start_s) / data.step_s));
    const last = Math.min(data.samples.length - 1, Math.ceil((to - data.start_s) / data.step_s));
    const count = last - first + 1;
    const time = [];
    const angle = [];
    const push = function (index) {
      time.push(data.start_s + index * data.step_s);
      angle.push(data.samples[index]);
    };
    if (count <= POINTS_A_PIXEL_COLUMN * columns) {
      for (let i = first; i <= last; i += 1) push(i);
      return { time: time, angle: angle };
    }
    for (let column = 0; column < columns; column += 1) {
      const start = first + Math.floor((column * count) / columns);
      const stop = first + Math.floor(((column + 1) * count) / columns);
      let low = start;
      let high = start;
      for (let i = start + 1; i < stop; i += 1) {
        if (data.samples[i] < data.samples[low]) low = i;
        if (data.samples[i] > data.samples[high]) high = i;
      }
      push(Math.min(low, high));
      if (low !== high) push(Math.max(low, high));
    }
    return { time: time, angle: angle };
  }

  function curves(data, from, to, columns) {
    const shown = reduced(data, from, to, columns);
    const lower = [];
    const upper = [];
    shown.time.forEach(function (time, index) {
      const second = Math.min(data.half.length - 1, Math.floor((time - data.start_s) / data.band_step_s));
      // where nothing is known, as before the sensors are worn, a band over everything would only hide the rest
      const half = data.half[second] < NOTHING_KNOWN_DEG ? data.half[second] : 0;
      lower.push(shown.angle[index] - half);
      upper.push(shown.angle[index] + half);
    });
    return { x: [shown.time, shown.time, shown.time], y: [lower, upper, shown.angle] };
  }

  function layoutOf(data) {
    const bottom = data.vertical_deg[0];
    const top = data.vertical_deg[1];
    const shapes = [];
    const annotations = [];
    const band = function (start, stop, low, high, colour, opacity, reference) {
      shapes.push({ type: "rect", xref: "x", yref: reference, x0: start, x1: stop, y0: low, y1: high, fillcolor: colour,
        opacity: opacity, line: { width: 0 }, layer: "below" });
    };
    data.phases.forEach(function (phase) {
      const colour = data.phase_colours[phase.name];
      if (colour) band(phase.start_s, phase.stop_s, 0, 1, colour, 0.35, "paper");
      if (phase.name.startsWith("set ")) {
        band(phase.start_s, phase.stop_s, 0, 1, "#000000", 0.05, "paper");
        annotations.push({ x: (phase.start_s + phase.stop_s) / 2, y: 1, xref: "x", yref: "paper", yanchor: "bottom",
          text: phase.name, showarrow: false, font: { size: 13 } });
      }
    });
    if (data.window_deg) {
      const high = data.window_deg[1] === null ? top + 1000 : data.window_deg[1];
      shapes.push({ type: "rect", xref: "paper", yref: "y", x0: 0, x1: 1, y0: data.window_deg[0], y1: high,
        fillcolor: data.colours.window, opacity: 0.22, line: { width: 0 }, layer: "below" });
    }
    data.lines.forEach(function (line) {
      shapes.push({ type: "line", xref: "paper", yref: "y", x0: 0, x1: 1, y0: line.deg, y1: line.deg,
        line: { color: line.colour, width: 2, dash: line.dash } });
    });
    return {
      margin: { l: 58, r: 12, t: 28, b: 52 },
      paper_bgcolor: "#ffffff",
      plot_bgcolor: "#ffffff",
      font: { family: "system-ui, sans-serif", size: 14, color: "#1a1a1a" },
      showlegend: false,
      hovermode: "closest",
      dragmode: "zoom",
      xaxis: { title: { text: "time from the recording's start, s" }, range: [data.start_s, data.stop_s],
        gridcolor: "#e6e6e6", zeroline: false, nticks: 8 },
      yaxis: { title: { text: data.motion }, range: [bottom, top], gridcolor: "#e6e6e6", zeroline: true,
        zerolinecolor: "#808080" },
      shapes: shapes,
      annotations: annotations
    };
  }

  function tracesOf(data, start) {
    const line = function (index, more) {
      return Object.assign({ type: "scatter", mode: "lines", x: start.x[index], y: start.y[index] }, more);
    };
    const traces = [
      line(0, { line: { width: 0, color: data.colours.band }, hoverinfo: "skip" }),
      line(1, { line: { width: 0, color: data.colours.band }, fill: "tonexty", fillcolor: data.colours.band + "66",
        hoverinfo: "skip" }),
      line(2, { line: { width: 1.3, color: data.colours.angle },
        hovertemplate: "%{x:.2f} s: %{y:.1f} deg<extra></extra>" })
    ];
    data.repetitions.forEach(function (group) {
      traces.push({ type: "scatter", mode: "markers", x: group.time_s, y: group.angle_deg, text: group.hover,
        hovertemplate: "%{text}<extra></extra>",
        marker: { symbol: group.symbol, color: group.colour, size: 9, line: { width: 1.5, color: "#1a1a1a" } } });
    });
    return traces;
  }

  function draw(element) {
    const data = JSON.parse(document.getElementById(element.id + "-data").textContent);
    data.samples = sixteenBits(data.angle, data.angle_step_deg);
    data.half = sixteenBits(data.band, data.band_step_deg);
    const columns = function () { return Math.max(200, element.clientWidth - 70); };
    const refresh = function (from, to) {
      Plotly.restyle(element, curves(data, from, to, columns()), [0, 1, 2]);
    };
    const buttons = Array.from(document.querySelectorAll('button[data-figure="' + element.id + '"]'));
    const press = function (from, to) {
      buttons.forEach(function (button) {
        const same = Math.abs(button.dataset.start - from) < 0.01 && Math.abs(button.dataset.stop - to) < 0.01;
        button.setAttribute("aria-pressed", same ? "true" : "false");
      });
    };
    const options = { responsive: true, displaylogo: false, scrollZoom: false, doubleClick: "reset",
      modeBarButtonsToRemove: ["select2d", "lasso2d", "toImage"] };
    Plotly.newPlot(element, tracesOf(data, curves(data, data.start_s, data.stop_s, columns())), layoutOf(data), options)
      .then(function () {
        element.on("plotly_relayout", function () {
          const range = element.layout.xaxis.range;
          refresh(range[0], range[1]);
          press(range[0], range[1]);
        });
        buttons.forEach(function (button) {
          button.addEventListener("click", function () {
            Plotly.relayout(element, { "xaxis.range": [Number(button.dataset.start), Number(button.dataset.stop)] });
          });
        });
        element.setAttribute("data-drawn", "true");
      });
  }

  document.querySelectorAll(".angle").forEach(draw);
})();
