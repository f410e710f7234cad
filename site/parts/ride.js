"use strict";
// The ride over time: one condition, one stretch of time and one moment for all panels and the side view, which plays. The
// address keeps them.

(() => {
  const at = id => document.getElementById(id);
  const condition = at("condition"), length = at("length"), begin = at("begin"), moment = at("moment"), play = at("play");
  const ids = [...document.querySelectorAll("[data-panel]")].map(panel => panel.id);
  const whole = Number(begin.dataset.whole), side = at("side"), { grows, left, width, bottom, pivot } = side.dataset;
  const POINTS = 72, SLOWLY = 0.25, PANELS_EVERY = 0.1;
  const TOLD = [["speed", "speed", "m/s", 1], ["pitch", "pitch", "deg", 1], ["roll", "roll", "deg", 1], ["throttle", "throttle", "%", 0], ["power", "power", "W", 0]];
  const of = name => foilsweep.rows(name).filter(row => row.condition === Number(condition.value));
  const views = () => ids.map(id => foilsweep.views[id].view);
  let rows = [], waves = [], first = 0, last = whole;

  // The row of a moment; rows are evenly spaced.
  const row = time => rows[Math.max(0, Math.min(rows.length - 1, Math.round((time - rows[0].time) / (rows[1].time - rows[0].time))))];

  // The surface in cm, `ahead` mm ahead of the craft's reference point; where the sea is not known, its level at that point.
  function surface(now, ahead) {
    if (!waves.length) return now.surface ?? 0;
    const turn = (now.heading || 0) * Math.PI / 180, x = now.x + ahead / 1000 * Math.cos(turn), y = now.y + ahead / 1000 * Math.sin(turn);
    const grown = Math.min(now.time / grows, 1);
    return grown * grown * (3 - 2 * grown) * waves.reduce(
      (sum, wave) => sum + wave.amplitude * Math.cos(wave.wave_x * x + wave.wave_y * y - wave.omega * now.time + wave.phase), 0);
  }

  function pose() {
    if (rows.length < 2) return;
    const now = row(Number(moment.value)), from = Number(left), step = Number(width) / POINTS;
    const line = Array.from({ length: POINTS + 3 }, (_, i) => from + step * (i - 1))
      .map(x => `${x.toFixed(1)},${(-10 * surface(now, x - pivot)).toFixed(2)}`);
    const end = Number(bottom) + 20;
    at("sea").setAttribute("points", [...line, `${from + Number(width) + 2 * step},${end}`, `${from - step},${end}`].join(" "));
    at("boat").setAttribute("transform", `translate(0 ${-10 * now.keel_height}) rotate(${-now.pitch} ${pivot} 0)`);
    for (const foil of side.querySelectorAll("[data-foil]")) {
      const angle = now[`foil_${foil.dataset.foil}`];
      if (angle != null) foil.setAttribute("transform", `rotate(${-angle} ${foil.dataset.pivot})`);
    }
    const told = TOLD.filter(([key]) => now[key] != null).map(([key, word, unit, decimals]) => `${word} ${now[key].toFixed(decimals)} ${unit}`);
    at("moment-said").textContent = [`${now.time.toFixed(1)} s: keel ${(now.keel_height - surface(now, 0)).toFixed(1)} cm above the water`, ...told].join("; ");
  }

  function show() {
    const span = Number(length.value) || last - first;
    begin.max = Math.max(first, last - span);
    begin.disabled = span >= last - first;
    const from = Math.min(Number(begin.value), Number(begin.max));
    at("window-said").textContent = `${from.toFixed(1)} to ${(from + span).toFixed(1)} s`;
    for (const view of views()) {
      view.signal("condition", Number(condition.value)).signal("begin", from).signal("end", from + span)
        .signal("moment", Number(moment.value)).run();
    }
  }

  // Goes to a moment; the window of the panels follows.
  function go(time) {
    moment.value = time;
    const span = Number(length.value) || last - first, from = Number(begin.value);
    if (time < from || time > from + span) begin.value = Math.max(first, time - 0.1 * span);
    pose();
    show();
  }

  let due = 0;
  function keep(step = false) {
    clearTimeout(due);
    const now = () => foilsweep.keep([["condition", condition.selectedOptions[0].textContent],
      ...[length, begin, moment].map(each => [each.id, each.value])], step);
    if (step) now(); else due = setTimeout(now, 200);
  }

  function list() {
    at("events").replaceChildren(...of("events").map(event => {
      const item = document.createElement("li"), button = item.appendChild(document.createElement("button"));
      button.type = "button";
      button.textContent = event.said;
      button.addEventListener("click", () => { stop(); go(Math.max(0, event.begin - 1)); keep(); });
      return item;
    }));
    at("events-said").textContent = at("events").children.length ? "Go to what went wrong:" : "Nothing went wrong in this flight.";
  }

  // The rows of the chosen flight, and where the sliders go: the seconds kept of an outing begin late.
  function take() {
    rows = of("ride");
    const late = rows.length && rows[0].time > 1;
    [first, last] = late ? [rows[0].time, rows.at(-1).time] : [0, whole];
    for (const slider of [begin, moment]) [slider.min, slider.max] = [first, last];
  }

  // `led`: by a link to a moment, which the window of the panels follows.
  function choose(led = false) {
    take();
    waves = of("sea");
    for (const view of views()) view.data("ride", rows).data("events", of("events"));
    for (const [id, { view }] of Object.entries(foilsweep.views)) {
      if (!id.startsWith("spectrum-")) continue;
      view.signal("condition", Number(condition.value)).run();
      at(id).closest("figure").hidden = "part" in condition.selectedOptions[0].dataset;
    }
    list();
    const time = Math.min(Math.max(Number(moment.value), rows[0]?.time ?? 0), rows.at(-1)?.time ?? whole);
    if (led || time !== Number(moment.value)) return go(time);
    pose();
    show();
  }

  let playing = false;
  function run() {
    let before = performance.now(), drawn = -Infinity, time = Number(moment.value);
    const last = rows.at(-1)?.time ?? 0;
    if (time >= last - 0.05) time = rows[0]?.time ?? 0;
    const frame = now => {
      if (!playing) return;
      time += (now - before) / 1000 * (at("slowly").checked ? SLOWLY : 1);
      before = now;
      moment.value = time;
      if (time >= last) stop();
      if (time - drawn >= PANELS_EVERY || !playing) { go(Math.min(time, last)); drawn = time; } else pose();
      requestAnimationFrame(frame);
    };
    requestAnimationFrame(frame);
  }
  function stop() { playing = false; play.textContent = "Play"; }
  play.addEventListener("click", () => {
    playing = !playing;
    play.textContent = playing ? "Stop" : "Play";
    if (playing) run(); else keep();
  });
  moment.addEventListener("input", () => { stop(); go(Number(moment.value)); keep(); });
  matchMedia("(prefers-reduced-motion: reduce)").addEventListener("change", stop);

  // A panel takes the rows of one condition: all of them in every panel would be slow on a phone.
  const drawn = ids.map(id => foilsweep.draw(id, foilsweep.spec(id), undefined, of));
  foilsweep.waiting.push(Promise.all([...drawn, ...foilsweep.waiting]).then(() => {
    condition.addEventListener("input", () => { stop(); choose(); keep(true); });
    for (const control of [length, begin]) control.addEventListener("input", () => { show(); keep(); });
    // A press on a panel goes to its moment, whose values are told beside the boat.
    for (const id of ids) {
      const { view } = foilsweep.views[id];
      view.addEventListener("click", (event, item) => {
        if (item?.datum?.label) return;
        const box = document.getElementById(id).querySelector("svg, canvas").getBoundingClientRect();
        const time = view.scale("x").invert(event.clientX - box.x - view.origin()[0] - view.padding().left);
        if (time >= first && time <= last) { stop(); go(Math.round(time * 50) / 50); keep(); }
      });
    }
    const { asked } = foilsweep;
    for (const choice of [condition, length]) foilsweep.take(choice);
    take();
    for (const slider of [begin, moment]) if (asked.get(slider.id)) slider.value = asked.get(slider.id);
    choose(asked.has("moment") && !asked.has("begin"));
    if (asked.get("moment")) document.getElementById("over-time").scrollIntoView();
  }));
})();
