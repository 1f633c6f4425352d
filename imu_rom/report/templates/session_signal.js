// Samples as they travel, their extremes at every scale, and numbers in words as the library writes them.

const NO_ANGLE = -32768;
const POINTS_A_PIXEL_COLUMN = 2;
const BRANCHES = 16;
const INK = "#1a1a1a";
const PLAIN = { responsive: true, displayModeBar: false, scrollZoom: false, doubleClick: "reset" };

function sixteenBits(text, step) {
  const raw = atob(text);
  const bytes = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i += 1) bytes[i] = raw.charCodeAt(i);
  const view = new DataView(bytes.buffer);
  const values = new Float32Array(bytes.length / 2);
  for (let i = 0; i < values.length; i += 1) {
    const steps = view.getInt16(2 * i, true);
    values[i] = steps === NO_ANGLE ? NaN : steps * step;
  }
  return values;
}

// where nothing is known a sample is NaN, and any number takes its place
function lower(samples, a, b) {
  return samples[b] < samples[a] || samples[a] !== samples[a] ? b : a;
}

function higher(samples, a, b) {
  return samples[b] > samples[a] || samples[a] !== samples[a] ? b : a;
}

// the places of the lowest and the highest sample of every 16, of every 256 and so on
function pyramidOf(samples) {
  const levels = [];
  let size = 1;
  let below = null;
  for (let count = Math.floor(samples.length / BRANCHES); count > 0; count = Math.floor(count / BRANCHES)) {
    const low = new Int32Array(count);
    const high = new Int32Array(count);
    for (let block = 0; block < count; block += 1) {
      const first = block * BRANCHES;
      low[block] = below ? below.low[first] : first;
      high[block] = below ? below.high[first] : first;
      for (let i = first + 1; i < first + BRANCHES; i += 1) {
        low[block] = lower(samples, low[block], below ? below.low[i] : i);
        high[block] = higher(samples, high[block], below ? below.high[i] : i);
      }
    }
    size *= BRANCHES;
    below = { size: size, low: low, high: high };
    levels.push(below);
  }
  return levels;
}

// places of the lowest and the highest sample from start up to stop, whole blocks at a time
function extremes(data, start, stop) {
  let low = start;
  let high = start;
  let i = start;
  while (i < stop) {
    let level = data.levels.length - 1;
    while (level >= 0 && (i % data.levels[level].size !== 0 || i + data.levels[level].size > stop)) level -= 1;
    if (level < 0) {
      low = lower(data.samples, low, i);
      high = higher(data.samples, high, i);
      i += 1;
    } else {
      const block = i / data.levels[level].size;
      low = lower(data.samples, low, data.levels[level].low[block]);
      high = higher(data.samples, high, data.levels[level].high[block]);
      i += data.levels[level].size;
    }
  }
  return [low, high];
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
    const pair = extremes(data, start, stop);
    push(Math.min(pair[0], pair[1]));
    if (pair[0] !== pair[1]) push(Math.max(pair[0], pair[1]));
  }
  return { time: time, angle: angle };
}

// one decimal, halves to even as in the library, no minus in front of zero
function oneDecimal(value) {
  const quarter = Math.abs(value * 4) % 2;
  if (quarter === 1) {
    const tenths = Math.floor(value * 10);
    return ((tenths % 2 === 0 ? tenths : tenths + 1) / 10 + 0).toFixed(1);
  }
  const text = value.toFixed(1);
  return text === "-0.0" ? "0.0" : text;
}

function interval(low, high) {
  return oneDecimal(low) + " to " + oneDecimal(high);
}

function filled(template, values) {
  return template.replace(/\{(\w+)\}/g, function (whole, name) { return values[name]; });
}

// the standard normal distribution function: a series near the middle, a continued fraction in the tails
// (Abramowitz, Stegun, Handbook of mathematical functions, 1964, 26.2.11 and 26.2.14; from memory)
function normalCdf(z) {
  if (z > 8.5) return 1;
  if (z < -39) return 0;
  const density = Math.exp(-z * z / 2) / Math.sqrt(2 * Math.PI);
  if (Math.abs(z) < 3) {
    let term = z;
    let sum = z;
    for (let n = 3; n < 200; n += 2) {
      term *= z * z / n;
      sum += term;
    }
    return 0.5 + density * sum;
  }
  let fraction = Math.abs(z);
  for (let n = 200; n > 0; n -= 1) fraction = Math.abs(z) + n / fraction;
  return z > 0 ? 1 - density / fraction : density / fraction;
}

// halves to even, as the library rounds
function wholePercent(probability) {
  const percent = 100 * probability;
  const below = Math.floor(percent);
  if (percent - below === 0.5) return below % 2 === 0 ? below : below + 1;
  return Math.round(percent);
}

function likelihood(probability, words) {
  const whole = wholePercent(probability);
  const word = words.find(function (each) { return whole >= Math.round(100 * each[0]); })[1];
  const percent = whole >= 100 ? "over 99 %" : whole <= 0 ? "under 1 %" : whole + " %";
  return word + " (" + percent + ")";
}
