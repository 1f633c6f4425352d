// The angle over time.

const NOTHING_KNOWN_DEG = 90;

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

function layoutOf(data, narrow) {
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
    annotations.push({ x: 1, y: line.deg, xref: "paper", yref: "y", xanchor: "right", yanchor: "bottom",
      text: narrow ? line.short : line.words, showarrow: false, font: { size: 12, color: INK }, bgcolor: "rgba(255,255,255,0.75)" });
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

// one place in each part of the page says which repetition is chosen; words follow at once, figures before the next
// picture on the screen, so that a key that is held down is not kept waiting by them
function chooserOf(count) {
  const chooser = { index: -1, words: [], figures: [] };
  let waiting = false;
  chooser.choose = function (index) {
    chooser.index = index >= 0 && index < count ? index : -1;
    chooser.words.forEach(function (follow) { follow(chooser.index); });
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(function () {
      waiting = false;
      chooser.figures.forEach(function (follow) { follow(chooser.index); });
    });
  };
  return chooser;
}

function markersOf(data, x, y, more) {
  return data.kinds.map(function (kind, number) {
    const own = [];
    data.repetitions.forEach(function (each, index) { if (each.kind === number) own.push(index); });
    return { own: own, trace: Object.assign({ type: "scatter", mode: "markers", customdata: own,
      x: own.map(x), y: own.map(y), text: own.map(function (index) { return data.repetitions[index].hover; }),
      hovertemplate: "%{text}<extra></extra>",
      marker: { symbol: kind.symbol, color: kind.colour, size: 9, line: { width: 1.5, color: INK } } }, more(own)) };
  }).filter(function (each) { return each.own.length > 0; }).map(function (each) { return each.trace; });
}

function ring(x, y) {
  return { type: "scatter", mode: "markers", x: x, y: y, hoverinfo: "skip",
    marker: { symbol: "circle-open", size: 19, color: INK, line: { width: 3, color: INK } } };
}

function choosesByClick(element, chooser) {
  element.on("plotly_click", function (event) {
    const index = event.points[0].customdata;
    if (typeof index === "number") chooser.choose(index);
  });
}

function drawAngle(element, data, chooser) {
  const whole = [data.start_s, data.stop_s];
  const columns = function () { return Math.max(200, element.clientWidth - 70); };
  const line = function (shown, index, more) {
    return Object.assign({ type: "scatter", mode: "lines", x: shown.x[index], y: shown.y[index] }, more);
  };
  const at = function (name) { return function (index) { return data.repetitions[index][name]; }; };
  const first = curves(data, whole[0], whole[1], columns());
  const traces = [
    line(first, 0, { line: { width: 0, color: data.colours.band }, hoverinfo: "skip" }),
    line(first, 1, { line: { width: 0, color: data.colours.band }, fill: "tonexty", fillcolor: data.colours.band + "66",
      hoverinfo: "skip" }),
    line(first, 2, { line: { width: 1.3, color: data.colours.angle },
      hovertemplate: "%{x:.2f} s: %{y:.1f} deg<extra></extra>" })
  ].concat(markersOf(data, at("time_s"), at("deg"), function () { return {}; }), [ring([], [])]);
  const buttons = Array.from(document.querySelectorAll('button[data-figure="' + element.id + '"]'));
  const press = function (from, to) {
    buttons.forEach(function (button) {
      if (!button.dataset.stop) return;
      const same = Math.abs(button.dataset.start - from) < 0.01 && Math.abs(button.dataset.stop - to) < 0.01;
      button.setAttribute("aria-pressed", same ? "true" : "false");
    });
  };
  const show = function (from, to) {
    const length = Math.min(Math.max(to - from, 1), whole[1] - whole[0]);
    const start = Math.min(Math.max(from, whole[0]), whole[1] - length);
    press(start, start + length);
    return Plotly.update(element, curves(data, start, start + length, columns()),
      { "xaxis.range": [start, start + length] }, [0, 1, 2]);
  };
  const follow = function (index) {
    const chosen = data.repetitions[index];
    const range = element.layout.xaxis.range;
    Plotly.restyle(element, { x: [chosen ? [chosen.time_s] : []], y: [chosen ? [chosen.deg] : []] }, [traces.length - 1]);
    if (chosen && (chosen.time_s < range[0] || chosen.time_s > range[1])) show(chosen.start_s - 5, chosen.stop_s + 5);
  };
  return Plotly.newPlot(element, traces, layoutOf(data, element.clientWidth < 620), PLAIN).then(function () {
    element.on("plotly_relayout", function () {
      const range = element.layout.xaxis.range;
      Plotly.restyle(element, curves(data, range[0], range[1], columns()), [0, 1, 2]);
      press(range[0], range[1]);
    });
    buttons.forEach(function (button) {
      button.addEventListener("click", function () {
        if (button.dataset.stop) {
          show(Number(button.dataset.start), Number(button.dataset.stop));
          return;
        }
        const range = element.layout.xaxis.range;
        const by = button.dataset.by.split(" ").map(Number);
        const middle = (range[0] + range[1]) / 2 + by[0] * (range[1] - range[0]);
        const half = by[1] * (range[1] - range[0]) / 2;
        show(middle - half, middle + half);
      });
    });
    choosesByClick(element, chooser);
    chooser.figures.push(follow);
  });
}
