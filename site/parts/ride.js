"use strict";
// The ride over time: one condition and one stretch of time for all panels.

(() => {
  const condition = document.getElementById("condition"), length = document.getElementById("length");
  const begin = document.getElementById("begin"), said = document.getElementById("window-said");
  const ids = [...document.querySelectorAll("[data-panel]")].map(panel => panel.id);
  const whole = Number(begin.dataset.whole);

  function show() {
    const span = Number(length.value) || whole;
    begin.max = Math.max(0, whole - span);
    begin.disabled = span >= whole;
    const from = Math.min(Number(begin.value), Number(begin.max));
    said.textContent = `${from.toFixed(1)} to ${(from + span).toFixed(1)} s`;
    for (const id of ids) {
      const { view } = foilsweep.views[id];
      view.signal("condition", Number(condition.value)).signal("begin", from).signal("end", from + span).run();
    }
  }

  const drawn = Promise.all(foilsweep.waiting).then(() => {
    for (const control of [condition, length, begin]) control.addEventListener("input", show);
    show();
  });
  foilsweep.waiting.push(drawn);
})();
