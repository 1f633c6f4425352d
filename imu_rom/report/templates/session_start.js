const strikes = marking();

document.querySelectorAll(".angle").forEach(function (element) {
  const number = element.id.split("-")[1];
  const get = function (name) { return document.getElementById(name + "-" + number); };
  const data = JSON.parse(document.getElementById(element.id + "-data").textContent);
  data.samples = sixteenBits(data.angle, data.angle_step_deg);
  data.half = sixteenBits(data.band, data.band_step_deg);
  data.levels = pyramidOf(data.samples);
  const chooser = chooserOf(data.repetitions.length);
  const drawn = [drawAngle(element, data, chooser)];
  if (data.repetitions.length) {
    drawn.push(drawEnds(get("ends"), data, chooser), drawOverlay(get("overlay"), data, chooser));
    choosesByControls(number, data, chooser);
    strikes(number, data, chooser);
  }
  if (get("exposure")) {
    const curves = JSON.parse(document.getElementById("exposure-" + number + "-data").textContent);
    drawn.push(drawExposure(get("exposure"), number, curves));
  }
  Promise.all(drawn).then(function () { element.setAttribute("data-drawn", "true"); });
});
