"use strict";
// The linked views: their size follows the page, their scatter shows the columns that the reader chooses.

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

  let built = Promise.resolve();
  const build = () => built = built.then(draw);

  async function draw() {
    const kept = view?.getState(brushes), before = barWidth;
    width = await foilsweep.width(holder);
    view?.finalize();
    view = await foilsweep.draw("explore", laidOut(), showRow);
    if (kept) view.setState(scaled(kept, barWidth / before));
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
