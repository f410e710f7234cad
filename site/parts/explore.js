"use strict";
// The linked views: their size follows the page, their scatter shows the columns that the reader chooses; the address keeps
// these columns and the brushes over the histograms, as per cent of the way along each.

(() => {
  const holder = document.getElementById("explore"), base = foilsweep.spec("explore"), axes = base.usermeta;
  const across = document.getElementById("across"), up = document.getElementById("up");
  const said = document.getElementById("chosen-said"), list = document.getElementById("chosen");
  const columns = JSON.parse(document.getElementById("explore-columns").textContent);
  const LISTED = 10, GAP = 20, EDGE = 54;
  let view = null, width = 0, barWidth = 0;

  function laidOut() {
    const spec = structuredClone(base), [scatter, histograms] = spec.vconcat;
    for (const layer of scatter.layer) {
      delete layer.encoding.xOffset;
      Object.assign(layer.encoding, axes.across[across.value], axes.up[up.value]);
    }
    scatter.layer[1].name = "chosen";
    scatter.width = width - 88;
    scatter.height = Math.min(340, Math.max(240, width / 2));
    histograms.columns = width < 520 ? 1 : width < 900 ? 2 : 3;
    barWidth = Math.floor((width - GAP * (histograms.columns - 1)) / histograms.columns) - EDGE;
    for (const histogram of histograms.concat) histogram.width = barWidth;
    return spec;
  }

  // The brushes over the histograms outlive a new size and new axes of the scatter; the box on the scatter cannot.
  const brushes = { signals: name => /^over_.*_x$/.test(name), data: name => /^over_.*_store$/.test(name) };

  function scaled(state, ratio) {
    for (const [name, pixels] of Object.entries(state.signals || {})) {
      state.signals[name] = pixels.map(pixel => pixel * ratio);
    }
    for (const inner of state.subcontext || []) scaled(inner, ratio);
    return state;
  }

  // Brush by brush: the name of its column, and where it begins and ends in pixels.
  function drawn(state, found = []) {
    for (const [name, pixels] of Object.entries(state.signals || {})) {
      if (pixels.length && pixels[0] !== pixels[1]) found.push([name.slice("over_".length, -"_x".length), pixels]);
    }
    for (const inner of state.subcontext || []) drawn(inner, found);
    return found;
  }

  function keepInAddress() {
    const chosen = drawn(view.getState(brushes))
      .map(([key, pixels]) => [key, pixels.slice().sort((a, b) => a - b).map(pixel => +(100 * pixel / barWidth).toFixed(1)).join("-")]);
    const shown = new URLSearchParams([["across", across.value], ["up", up.value], ...chosen]).toString();
    if (shown !== location.hash.slice(1) && (location.hash || chosen.length || moved())) location.replace(`#${shown}`);
  }
  const moved = () => [across, up].some(choice => !choice.selectedOptions[0].defaultSelected);

  // A brush is told by its pixels; what they mean follows from them, and is then put into the store that filters.
  async function brushAgain(asked) {
    const state = view.getState({ signals: brushes.signals, data: () => false });
    (function put(part) {
      for (const name of Object.keys(part.signals || {})) {
        const ends = (asked.get(name.slice("over_".length, -"_x".length)) || "").split("-").map(Number);
        if (ends.length === 2 && ends.every(end => end >= 0 && end <= 100)) part.signals[name] = ends.map(end => end / 100 * barWidth);
      }
      for (const inner of part.subcontext || []) put(inner);
    })(state);
    view.setState(state);
    await view.runAsync();
    (function store(part) {
      for (const [name, tuple] of Object.entries(part.signals || {})) if (tuple?.values) view.data(name.replace(/tuple$/, "store"), [tuple]);
      for (const inner of part.subcontext || []) store(inner);
    })(view.getState({ signals: name => /^over_.*_tuple$/.test(name), data: () => false }));
  }

  let built = Promise.resolve(), asked = new URLSearchParams(location.hash.slice(1));
  for (const choice of [across, up]) {
    if ([...choice.options].some(option => option.value === asked.get(choice.id))) choice.value = asked.get(choice.id);
  }
  const build = () => built = built.then(draw);

  async function draw() {
    const kept = view?.getState(brushes), before = barWidth;
    width = await foilsweep.width(holder);
    view?.finalize();
    view = await foilsweep.draw("explore", laidOut(), showRow);
    if (kept) view.setState(scaled(kept, barWidth / before)); else if (asked) await brushAgain(asked);
    asked = null;
    for (const { name } of base.params.filter(param => param.select)) view.addSignalListener(name, soon);
    await view.runAsync();
    listChosen();
  }

  let due = 0;
  function soon() {
    clearTimeout(due);
    due = setTimeout(() => view?.runAfter(listChosen), 60);
  }

  function marks(item, name) {
    if (item.name === name) return item.items;
    return (item.items || []).reduce((found, inner) => found || marks(inner, name), null);
  }

  function listChosen() {
    if (!view) return;
    keepInAddress();
    const rows = (marks(view.scenegraph().root, "chosen_marks") || []).map(item => item.datum);
    said.textContent = `${rows.length} of ${foilsweep.rows("explore").length} designs chosen`
      + (rows.length > LISTED ? `; the first ${LISTED}:` : ":");
    rows.sort((one, other) => (one.place ?? Infinity) - (other.place ?? Infinity) || one.score - other.score);
    const short = columns.filter(column => column.role === "factor" || column.key === "score");
    list.replaceChildren(...rows.slice(0, LISTED).map(row => entry(row, short)));
  }

  function showRow(row) {
    said.textContent = "The design that you picked:";
    list.replaceChildren(entry(row, columns));
    said.scrollIntoView({ block: "nearest" });
  }

  function entry(row, shown) {
    const item = document.createElement("li"), name = item.appendChild(document.createElement(row.page ? "a" : "span"));
    if (row.page) name.href = row.page;
    name.textContent = `Design ${row.label}`;
    const values = shown.map(column => `${column.title} ${row[column.key] ?? "not known"}${column.unit && ` ${column.unit}`}`);
    item.append(`, ${row.group}: ${values.join("; ")}`);
    return item;
  }

  across.addEventListener("change", build);
  up.addEventListener("change", build);
  document.getElementById("clear").addEventListener("click", () => { built = built.then(() => { view?.finalize(); view = null; }).then(draw); });
  new ResizeObserver(() => { if (width && Math.abs(holder.clientWidth - width) > 30) build(); }).observe(holder);
  foilsweep.waiting.push(build());
})();
