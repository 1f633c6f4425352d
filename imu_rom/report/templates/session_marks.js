// Corrections by hand: gathered here, saved as a file that the analysis reads, never applied to this page.

function marking() {
  const section = document.getElementById("marking-section");
  if (!section) return function () {};
  const kept = JSON.parse(document.getElementById("marking-data").textContent);
  const marks = kept.marks.slice();
  const get = function (name) { return document.getElementById("mark-" + name); };
  const list = get("list");

  // the time of day with its offset, as RFC 3339 writes it
  function now() {
    const moment = new Date();
    const two = function (value) { return String(Math.floor(Math.abs(value))).padStart(2, "0"); };
    const offset = -moment.getTimezoneOffset();
    return moment.getFullYear() + "-" + two(moment.getMonth() + 1) + "-" + two(moment.getDate()) + "T"
      + two(moment.getHours()) + ":" + two(moment.getMinutes()) + ":" + two(moment.getSeconds())
      + (offset < 0 ? "-" : "+") + two(offset / 60) + ":" + two(offset % 60);
  }

  function show() {
    list.textContent = "";
    marks.forEach(function (mark) {
      const item = document.createElement("li");
      const words = document.createElement("span");
      words.textContent = mark.action + " from " + mark.start_s + " to " + mark.stop_s + " s: " + mark.reason + " (" + mark.by + ")";
      const back = document.createElement("button");
      back.type = "button";
      back.textContent = "take back";
      back.setAttribute("aria-label", "take back: " + words.textContent);
      back.addEventListener("click", function () {
        marks.splice(marks.indexOf(mark), 1);
        show();
        get("told").textContent = "Taken back.";
        get("reason").focus();
      });
      item.append(words, back);
      list.append(item);
    });
    get("save").disabled = marks.length === 0 && kept.marks.length === 0;
  }

  function add(action, start, stop) {
    for (const name of ["reason", "by"]) {
      const missing = get(name).value.trim() === "";
      get(name).setAttribute("aria-invalid", missing ? "true" : "false");
      if (missing) {
        get("told").textContent = name === "reason" ? "Write a reason first." : "Write who marks it first.";
        get(name).focus();
        return;
      }
    }
    const same = marks.some(function (each) {
      return each.action === action && each.start_s === start && each.stop_s === stop;
    });
    if (same) {
      get("told").textContent = "That is marked already.";
      return;
    }
    marks.push({ action: action, start_s: start, stop_s: stop, reason: get("reason").value.trim(),
      by: get("by").value.trim(), at: now() });
    show();
    get("told").textContent = "Marked; not saved yet.";
  }

  document.querySelectorAll("button.join").forEach(function (button) {
    button.addEventListener("click", function () {
      add("join", Number(button.dataset.start), Number(button.dataset.stop));
    });
  });
  get("save").addEventListener("click", function () {
    // sets are joined first, while each of them still has its repetitions
    const order = marks.filter(function (each) { return each.action === "join"; })
      .concat(marks.filter(function (each) { return each.action !== "join"; }));
    const text = JSON.stringify({ recording_sha256: kept.recording_sha256, marks: order }, null, 2) + "\n";
    // where the page is shown inside a service, that takes them
    const offered = new CustomEvent("imu-rom-marks", { cancelable: true, detail: text });
    if (!document.dispatchEvent(offered)) {
      get("told").textContent = "Sent.";
      return;
    }
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
    link.download = "marks.json";
    link.click();
    URL.revokeObjectURL(link.href);
    get("told").textContent = "Saved as marks.json.";
  });
  show();
  return function strikes(number, data, chooser) {
    document.getElementById("strike-" + number).addEventListener("click", function () {
      const chosen = data.repetitions[chooser.index];
      if (chosen) add("strike", chosen.start_s, chosen.stop_s);
    });
  };
}
