// The time past every angle, and the threshold that the reader moves over it. The steps are those of
// dose/exposure.py and dose/moved_threshold.py in the same order, so that they agree to the last digit shown.

function timePast(set, angle, steps) {
  const last = set.ms.length - 1;
  const at = function (index) { return (set.first + index) / steps; };
  if (angle <= at(0)) return set.ms[0] / 1000;
  if (angle >= at(last)) return set.ms[last] / 1000;
  let index = Math.min(Math.max(Math.floor(angle * steps) - set.first, 0), last - 1);
  while (index > 0 && at(index) > angle) index -= 1;
  while (index < last - 1 && at(index + 1) <= angle) index += 1;
  const slope = (set.ms[index + 1] / 1000 - set.ms[index] / 1000) / (at(index + 1) - at(index));
  return slope * (angle - at(index)) + set.ms[index] / 1000;
}

function excessOf(set, angle, steps) {
  let area = 0;
  let from = angle;
  let time = timePast(set, angle, steps);
  for (let index = 0; index < set.ms.length; index += 1) {
    const next = (set.first + index) / steps;
    if (next > angle) {
      area += (next - from) * (time + set.ms[index] / 1000) / 2;
      from = next;
      time = set.ms[index] / 1000;
    }
  }
  return area;
}

function answerOf(probability, decide) {
  if (probability >= decide) return "yes";
  return probability <= 1 - decide + 1e-12 ? "no" : "undecided";
}

function jointAnswer(one, other, decide) {
  const first = answerOf(one, decide);
  return first === answerOf(other, decide) ? first : "undecided";
}

function commonError(data, angle) {
  return Math.sqrt(data.variance[0] + data.variance[1] * angle * angle);
}

function movedSet(data, set, angle) {
  const u = commonError(data, angle);
  const reach = data.coverage * u;
  const moved = { past_s: timePast(set, angle, data.steps_per_deg),
    low_s: timePast(set, angle + reach, data.steps_per_deg),
    high_s: timePast(set, angle - reach, data.steps_per_deg) + set.unseen_s,
    excess_deg_s: excessOf(set, angle, data.steps_per_deg),
    probability_above: null, probability_below: null, answer: "not prescribed" };
  if (set.levels_deg) {
    const above = function (level) { return 1 - (1 - normalCdf((level - angle) / u)); };
    const below = function (level) { return 1 - normalCdf((level - angle) / u); };
    const levels = set.levels_deg;
    moved.probability_above = above(levels[0]);
    moved.probability_below = below(levels[2]);
    const more = jointAnswer(moved.probability_above, above(levels[1]), data.decide);
    const less = jointAnswer(moved.probability_below, below(levels[3]), data.decide);
    moved.answer = "as asked";
    if (more === "yes") moved.answer = "more";
    else if (less === "yes" && more === "no") moved.answer = "less";
    else if (more === "undecided" || less === "undecided") moved.answer = "undecided";
  }
  return moved;
}

function movedThreshold(data, angle) {
  // at the plan's own angle the figures are those of the result
  if (data.own && data.own.threshold_deg === angle) return data.own;
  const sets = data.sets.map(function (set) { return movedSet(data, set, angle); });
  const total = { threshold_deg: angle, sets: sets };
  ["past_s", "low_s", "high_s", "excess_deg_s"].forEach(function (name) {
    total[name] = sets.reduce(function (sum, each) { return sum + each[name]; }, 0);
  });
  return total;
}

function angleInWords(angle) {
  return String(Number((Math.round(angle * 100) / 100 + 0).toPrecision(6)));
}

function against(data, set) {
  if (set.probability_above === null || set.probability_below === null) return data.answers["not prescribed"];
  const within = Math.max(1 - set.probability_above - set.probability_below, 0);
  if (set.answer === "undecided") {
    return filled(data.templates.undecided, { likelihood: likelihood(within, data.likelihoods) });
  }
  const probability = set.answer === "more" ? set.probability_above
    : set.answer === "less" ? set.probability_below : within;
  return filled(data.templates.decided,
    { answer: data.answers[set.answer], likelihood: likelihood(probability, data.likelihoods) });
}

function exposureLayout(data) {
  const shapes = [];
  const annotations = [];
  if (data.asked_in_all_s) {
    shapes.push({ type: "rect", xref: "paper", yref: "y", x0: 0, x1: 1, y0: data.asked_in_all_s[0],
      y1: data.asked_in_all_s[1] === null ? 1e6 : data.asked_in_all_s[1], fillcolor: data.colours.asked, opacity: 0.2,
      line: { width: 0 }, layer: "below" });
  }
  if (data.own) {
    shapes.push({ type: "line", xref: "x", yref: "paper", x0: data.own.threshold_deg, x1: data.own.threshold_deg, y0: 0,
      y1: 1, line: { color: data.colours.ink, width: 2, dash: "dash" } });
    annotations.push({ x: data.own.threshold_deg, y: 1, xref: "x", yref: "paper", yanchor: "bottom",
      text: "plan: " + data.own_words, showarrow: false, font: { size: 13 } });
  }
  return { margin: { l: 62, r: 12, t: 28, b: 52 }, paper_bgcolor: "#ffffff", plot_bgcolor: "#ffffff",
    font: { family: "system-ui, sans-serif", size: 14, color: INK }, showlegend: false, hovermode: "x",
    dragmode: false, shapes: shapes, annotations: annotations,
    xaxis: { title: { text: data.axes[0] }, range: data.range_deg, gridcolor: "#e6e6e6", zeroline: false,
      fixedrange: true },
    yaxis: { title: { text: data.axes[1] }, rangemode: "tozero", gridcolor: "#e6e6e6", fixedrange: true } };
}

function drawExposure(element, number, data) {
  const get = function (name) { return document.getElementById(name + "-" + number); };
  const slider = get("slider");
  const field = get("threshold");
  const rows = Array.from(document.querySelectorAll("#moved-table-" + number + " tbody tr"));
  const angles = [];
  const curves = { low_s: [], high_s: [], past_s: [] };
  const all = function (angle) {
    return data.sets.reduce(function (sum, set) { return sum + timePast(set, angle, data.steps_per_deg); }, 0);
  };
  const unseen = data.sets.reduce(function (sum, set) { return sum + set.unseen_s; }, 0);
  for (let tenth = data.range_deg[0] * 10; tenth <= data.range_deg[1] * 10; tenth += 2) {
    const angle = tenth / 10;
    const reach = data.coverage * commonError(data, angle);
    angles.push(angle);
    curves.past_s.push(all(angle));
    curves.low_s.push(all(angle + reach));
    curves.high_s.push(all(angle - reach) + unseen);
  }
  const layout = exposureLayout(data);
  const still = layout.shapes.slice();
  const write = function (angle) {
    const moved = movedThreshold(data, angle);
    const own = moved === data.own;
    get("moved").textContent = filled(data.templates.sentence, { past: oneDecimal(moved.past_s),
      angle: angleInWords(moved.threshold_deg), sets: data.templates.sets,
      interval: interval(moved.low_s, moved.high_s), excess: oneDecimal(moved.excess_deg_s) });
    get("behind").textContent = own ? data.templates.own
      : data.own ? filled(data.templates.moved, { own: data.own_words }) : "";
    rows.forEach(function (row, index) {
      const set = moved.sets[index];
      const texts = [filled(data.templates.time, { past: oneDecimal(set.past_s), interval: interval(set.low_s, set.high_s) }),
        data.asked[index], oneDecimal(set.excess_deg_s), against(data, set)];
      Array.from(row.querySelectorAll("td")).forEach(function (cell, place) { cell.textContent = texts[place]; });
    });
  };
  const move = function (text, from) {
    const angle = Math.round(Number(text) * 100) / 100;
    const inside = String(text).trim() !== "" && angle >= data.range_deg[0] && angle <= data.range_deg[1];
    field.setAttribute("aria-invalid", inside ? "false" : "true");
    if (!inside) return;
    if (from !== field) field.value = angleInWords(angle);
    if (from !== slider) slider.value = String(angle);
    write(angle);
    Plotly.relayout(element, { shapes: still.concat([{ type: "line", xref: "x", yref: "paper", x0: angle, x1: angle,
      y0: 0, y1: 1, line: { color: "#D55E00", width: 2.5 } }]) });
  };
  const traces = [
    { type: "scatter", mode: "lines", x: angles, y: curves.low_s, line: { width: 0 }, hoverinfo: "skip" },
    { type: "scatter", mode: "lines", x: angles, y: curves.high_s, line: { width: 0 }, fill: "tonexty",
      fillcolor: data.colours.band + "66", hoverinfo: "skip" },
    { type: "scatter", mode: "lines", x: angles, y: curves.past_s, line: { color: data.colours.line, width: 2.5 },
      hovertemplate: "%{y:.1f} s past %{x:.1f} deg<extra></extra>" }
  ];
  return Plotly.newPlot(element, traces, layout, PLAIN).then(function () {
    slider.addEventListener("input", function () { move(slider.value, slider); });
    field.addEventListener("input", function () { move(field.value, field); });
    element.on("plotly_click", function (event) { move(event.points[0].x, null); });
    const back = get("own");
    if (back) back.addEventListener("click", function () { move(data.own.threshold_deg, null); });
    move(field.value, field);
  });
}
