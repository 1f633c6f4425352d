// End range of each repetition, repetitions laid over each other, and the controls that choose one.

const PERCENTS = 101;

function barsOf(data, own) {
  const part = function (sign) {
    return own.map(function (index) {
      const each = data.repetitions[index];
      return sign < 0 ? each.deg - each.low_deg : each.high_deg - each.deg;
    });
  };
  return { error_y: { type: "data", symmetric: false, array: part(1), arrayminus: part(-1), color: INK,
    thickness: 1.2, width: 3 } };
}

// where a hold is prescribed it is what was held that the window is about, so that has a mark of its own
function heldOf(data) {
  const own = [];
  data.repetitions.forEach(function (each, index) { if (each.held_deg !== null) own.push(index); });
  if (!own.length) return [];
  return [{ type: "scatter", mode: "markers", customdata: own,
    x: own.map(function (index) { return index + 1; }),
    y: own.map(function (index) { return data.repetitions[index].held_deg; }),
    hovertemplate: "held at %{y:.1f} deg<extra></extra>",
    marker: { symbol: "line-ew-open", color: INK, size: 16, line: { width: 2, color: INK } } }];
}

function drawEnds(element, data, chooser) {
  const layout = layoutOf(data, element.clientWidth < 620);
  const numbers = data.repetitions.map(function (each, index) { return index + 1; });
  const edges = [];
  data.repetitions.forEach(function (each, index) {
    if (index > 0 && data.repetitions[index - 1].set !== each.set) edges.push(index + 0.5);
  });
  const levels = data.repetitions.map(function (each) { return each.low_deg; })
    .concat(data.repetitions.map(function (each) { return each.high_deg; }))
    .concat(data.lines.map(function (line) { return line.deg; }))
    .concat((data.window_deg || []).filter(function (each) { return each !== null; }));
  layout.shapes = layout.shapes.filter(function (each) { return each.xref === "paper"; });
  layout.annotations = layout.annotations.filter(function (each) { return each.xref === "paper"; });
  edges.forEach(function (edge) {
    layout.shapes.push({ type: "line", xref: "x", yref: "paper", x0: edge, x1: edge, y0: 0, y1: 1,
      line: { color: "#808080", width: 1 } });
  });
  [0.5].concat(edges).forEach(function (edge, place, all) {
    const stop = place + 1 < all.length ? all[place + 1] : numbers.length + 0.5;
    const set = data.repetitions[Math.round(edge + 0.5) - 1].set;
    layout.annotations.push({ x: (edge + stop) / 2, y: 1, xref: "x", yref: "paper", yanchor: "bottom",
      text: "set " + set, showarrow: false, font: { size: 13 } });
  });
  const room = element.clientWidth / numbers.length;
  const labelled = data.repetitions.map(function (each) {
    return room > 40 || each.number === 1 || (each.number % (room > 16 ? 5 : 10) === 0) ? String(each.number) : "";
  });
  layout.xaxis = { title: { text: "repetition" }, range: [0.4, numbers.length + 0.6], showgrid: false, zeroline: false,
    tickvals: numbers, ticktext: labelled, tickangle: 0, fixedrange: true };
  layout.yaxis.title = { text: "end range, deg" };
  layout.yaxis.range = [Math.min.apply(null, levels) - 2, Math.max.apply(null, levels) + 3];
  layout.yaxis.fixedrange = true;
  const place = function (index) { return index + 1; };
  const deg = function (index) { return data.repetitions[index].deg; };
  const traces = markersOf(data, place, deg, function (own) { return barsOf(data, own); }).concat(heldOf(data), [ring([], [])]);
  return Plotly.newPlot(element, traces, layout, PLAIN).then(function () {
    choosesByClick(element, chooser);
    chooser.figures.push(function (index) {
      const some = index >= 0;
      Plotly.restyle(element, { x: [some ? [index + 1] : []], y: [some ? [deg(index)] : []] }, [traces.length - 1]);
    });
  });
}

// the angle at even shares of the way from leaving the start to coming back
function overPercent(data, repetition) {
  const values = [];
  for (let percent = 0; percent < PERCENTS; percent += 1) {
    const time = repetition.start_s + (repetition.stop_s - repetition.start_s) * percent / (PERCENTS - 1);
    const at = Math.min(Math.max((time - data.start_s) / data.step_s, 0), data.samples.length - 1);
    const before = Math.floor(at);
    const after = Math.min(before + 1, data.samples.length - 1);
    values.push(data.samples[before] + (data.samples[after] - data.samples[before]) * (at - before));
  }
  return values;
}

function medianOf(curves) {
  return curves[0].map(function (first, percent) {
    const values = curves.map(function (each) { return each[percent]; }).sort(function (a, b) { return a - b; });
    const half = Math.floor(values.length / 2);
    return values.length % 2 ? values[half] : (values[half - 1] + values[half]) / 2;
  });
}

function drawOverlay(element, data, chooser) {
  const buttons = Array.from(document.querySelectorAll('button[data-overlay="' + element.id + '"]'));
  const percents = Array.from({ length: PERCENTS }, function (each, index) { return index; });
  const layout = layoutOf(data, element.clientWidth < 620);
  layout.shapes = layout.shapes.filter(function (each) { return each.xref === "paper"; });
  layout.annotations = layout.annotations.filter(function (each) { return each.xref === "paper"; });
  layout.margin.t = 12;
  layout.xaxis = { title: { text: "share of the movement, %" }, range: [0, 100], gridcolor: "#e6e6e6", zeroline: false,
    fixedrange: true };
  layout.yaxis.fixedrange = true;
  let set = buttons.length ? Number(buttons[0].dataset.set) : 0;
  const tracesOf = function () {
    const inSet = [];
    data.repetitions.forEach(function (each, index) { if (each.set === set) inSet.push(index); });
    const all = inSet.map(function (index) { return overPercent(data, data.repetitions[index]); });
    const traces = inSet.map(function (index, place) {
      return { type: "scatter", mode: "lines", x: percents, y: all[place], line: { color: "#56B4E9", width: 1.2 },
        customdata: percents.map(function () { return index; }),
        hovertemplate: "repetition " + data.repetitions[index].number + ": %{y:.1f} deg at %{x} %<extra></extra>" };
    });
    const whole = all.filter(function (each, place) { return data.repetitions[inSet[place]].complete; });
    if (whole.length) {
      traces.push({ type: "scatter", mode: "lines", x: percents, y: medianOf(whole), hoverinfo: "skip",
        line: { color: INK, width: 3 } });
    }
    const chosen = inSet.indexOf(chooser.index);
    if (chosen >= 0) {
      traces.push({ type: "scatter", mode: "lines", x: percents, y: all[chosen], hoverinfo: "skip",
        line: { color: "#D55E00", width: 3, dash: "4px,2px" } });
    }
    return traces;
  };
  const redraw = function () {
    buttons.forEach(function (button) {
      button.setAttribute("aria-pressed", Number(button.dataset.set) === set ? "true" : "false");
    });
    return Plotly.react(element, tracesOf(), layout, PLAIN);
  };
  return Plotly.newPlot(element, tracesOf(), layout, PLAIN).then(function () {
    buttons.forEach(function (button) {
      button.addEventListener("click", function () {
        set = Number(button.dataset.set);
        redraw();
      });
    });
    choosesByClick(element, chooser);
    chooser.figures.push(function (index) {
      if (index >= 0) set = data.repetitions[index].set;
      redraw();
    });
  });
}

function choosesByControls(number, data, chooser) {
  const get = function (name) { return document.getElementById(name + "-" + number); };
  const list = get("repetition");
  const told = get("told");
  const silent = told.textContent;
  get("before").addEventListener("click", function () {
    chooser.choose(chooser.index < 0 ? data.repetitions.length - 1 : Math.max(chooser.index - 1, 0));
  });
  get("after").addEventListener("click", function () {
    chooser.choose(Math.min(chooser.index + 1, data.repetitions.length - 1));
  });
  list.addEventListener("change", function () { chooser.choose(list.value === "" ? -1 : Number(list.value)); });
  chooser.words.push(function (index) {
    list.value = index < 0 ? "" : String(index);
    get("strike").disabled = index < 0 || !document.getElementById("marking-section");
    told.textContent = index < 0 ? silent : data.repetitions[index].hover.split("<br>").join("; ") + ".";
  });
}
