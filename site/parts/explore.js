"use strict";
// The linked views: their size follows the page, their scatter shows the columns that the reader chooses; the address keeps
// these columns and every brush, by the values where it begins and ends.

(() => {
  const holder = document.getElementById("explore"), base = foilsweep.spec("explore"), axes = base.usermeta;
  const across = document.getElementById("across"), up = document.getElementById("up");
  const said = document.getElementById("chosen-said"), list = document.getElementById("chosen");
  const columns = JSON.parse(document.getElementById("explore-columns").textContent);
  const LISTED = 10, FACTORS = 8, GAP = 20, EDGE = 54, GLANCED = 2000;
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

  // The scatter alone, of some designs and without brushes: it is there in half the time that all takes, and gives way to it.
  async function glance() {
    const { layer: [, marked], ...scatter } = laidOut().vconcat[0], { vconcat, params, usermeta, ...spec } = base;
    const first = holder.parentNode.insertBefore(Object.assign(document.createElement("div"), { className: "plot", id: "glance" }), holder);
    delete marked.transform;
    first.dataset.renderer = "canvas";
    const rows = foilsweep.rows("explore"), step = Math.ceil(rows.length / GLANCED);
    await foilsweep.draw("glance", {
      ...spec, ...scatter, ...marked, params: params.filter(param => "value" in param),
      datasets: { explore: rows.filter((_, i) => i % step === 0) },
    });
    delete foilsweep.views.glance;
    await new Promise(resolve => { requestAnimationFrame(() => setTimeout(resolve)); });
    return first;
  }

  // Of each brush: its name, the scales that it lies along, and what an address calls its stretch of each.
  const brushes = [
    ["box", ["concat_0_x", "concat_0_y"], ["box-across", "box-up"]],
    ...columns.map(({ key }, at) => [`over_${key}`, [`concat_1_concat_${at}_x`], [key]]),
  ];

  // A stretch as an address has it: '1.2..3.4', or the first and the last of some levels.
  const written = values => `${values[0]}..${values.at(-1)}`;

  // What a stretch of an address means on a scale: its values, and its ends in pixels; nothing if it means nothing there.
  function meant(text, name) {
    const scale = view.scale(name), domain = scale.domain(), [from, to] = text.split("..").map(Number);
    if (!scale.bandwidth) return Number.isFinite(from) && to > from ? { values: [from, to], ends: [scale(from), scale(to)] } : null;
    for (let first = 0; first < domain.length; first += 1) {
      for (let last = first; last < domain.length; last += 1) {
        const values = domain.slice(first, last + 1);
        if (written(values) === text) return { values, ends: [scale(domain[first]) + 1, scale(domain[last]) + scale.bandwidth() - 1] };
      }
    }
    return null;
  }

  // The brushes that are drawn, as an address has them.
  function drawn() {
    return brushes.flatMap(([name, scales, sides]) => {
      const chosen = view.data(`${name}_store`)[0];
      if (!chosen) return [];
      const ordered = (values, at) => view.scale(scales[at]).bandwidth ? values : values.slice().sort((a, b) => a - b);
      return sides.map((side, at) => [side, written(ordered(chosen.values[at], at))]);
    });
  }

  const keepInAddress = () => foilsweep.keep([["across", across.value], ["up", up.value], ...drawn()]);

  // Draws brushes again: their pixels, which are what is seen of them, and their values, which choose.
  async function brushAgain(asked) {
    const pixels = {}, stores = {};
    for (const [name, scales, sides] of brushes) {
      const parts = sides.map((side, at) => meant(asked.get(side) || "", scales[at]));
      if (!parts.every(Boolean)) continue;
      parts.forEach(({ ends }, at) => { pixels[`${name}_${"xy"[at]}`] = ends; });
      stores[`${name}_tuple`] = parts.map(({ values }) => values);
    }
    const some = names => view.getState({ signals: name => name in names, data: () => false });
    function each(part, change) {
      for (const [name, value] of Object.entries(part.signals || {})) change(name, value, part.signals);
      for (const inner of part.subcontext || []) each(inner, change);
    }
    const state = some(pixels);
    each(state, (name, _, signals) => { signals[name] = pixels[name]; });
    view.setState(state);
    await view.runAsync();
    each(some(stores), (name, tuple) => view.data(name.replace(/tuple$/, "store"), [{ ...tuple, values: stores[name] }]));
  }

  let built = Promise.resolve(), asked = foilsweep.asked, touched = Boolean(location.hash);
  for (const choice of [across, up]) foilsweep.take(choice);
  const build = () => built = built.then(draw);

  async function draw() {
    asked ??= new URLSearchParams(drawn());
    width = await foilsweep.width(holder);
    const first = view ? null : await glance();
    view?.finalize();
    view = await foilsweep.draw("explore", laidOut(), showRow);
    first?.remove();
    if ([...asked].length) await brushAgain(asked);
    asked = null;
    for (const { name } of base.params.filter(param => param.select)) view.addSignalListener(name, () => { touched = true; soon(); });
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
    if (touched) keepInAddress();
    const rows = (marks(view.scenegraph().root, "chosen_marks") || []).map(item => item.datum);
    said.textContent = `${rows.length} of ${foilsweep.rows("explore").length} designs chosen`
      + (rows.length > LISTED ? `; the first ${LISTED}:` : ":");
    rows.sort((one, other) => (one.place ?? Infinity) - (other.place ?? Infinity) || one.score - other.score);
    const some = columns.filter(column => column.role === "factor").slice(0, FACTORS);
    const short = columns.filter(column => some.includes(column) || [across.value, up.value, "score"].includes(column.key));
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
    const said = value => typeof value === "number" ? Number(value.toPrecision(4)) : value ?? "not known";
    const values = shown.map(column => `${column.title} ${said(row[column.key])}${column.unit && ` ${column.unit}`}`);
    item.append(`, ${row.group}: ${values.join("; ")}`);
    return item;
  }

  // A box on the scatter lies along its axes: on others it means nothing.
  function choose(without) {
    touched = true;
    built = built.then(() => { asked = new URLSearchParams(drawn().filter(([side]) => !without.test(side))); return draw(); });
  }
  for (const choice of [across, up]) choice.addEventListener("change", () => choose(/^box-/));

  // The brush over a column by its ends as they are written, for who has no pointer; an end that is left out is the last there.
  const by = document.getElementById("chosen-by"), ends = ["least", "most"].map(id => document.getElementById(id));
  const scaleOf = key => view.scale(`concat_1_concat_${columns.findIndex(column => column.key === key)}_x`);
  const offer = () => document.getElementById("levels").replaceChildren(
    ...(scaleOf(by.value).bandwidth ? scaleOf(by.value).domain() : []).map(level => new Option(level)));

  function stretch() {
    const scale = scaleOf(by.value), domain = scale.domain(), [from, to] = ends.map(({ value }) => value.trim());
    const place = text => typeof domain[0] === "number" ? Number(text) : domain.indexOf(text);
    const least = from ? place(from) : -Infinity, most = to ? place(to) : Infinity;
    if (!scale.bandwidth) return [Math.max(least, domain[0]), Math.min(most, domain.at(-1))];
    return domain.filter((level, at) => (typeof level === "number" ? level : at) >= least && (typeof level === "number" ? level : at) <= most);
  }

  by.addEventListener("change", () => { offer(); for (const end of ends) end.value = ""; });
  // Of a clipped axis: whether an end lies where designs stand that are further out, so that it cannot tell these apart.
  const further = () => `at_${by.value}` in foilsweep.data.explore && ends.some(({ value }) => Number(value) > scaleOf(by.value).domain().at(-1));

  document.getElementById("choose").addEventListener("click", () => {
    if (further()) {
      said.textContent = `This axis ends at ${scaleOf(by.value).domain().at(-1)}: beyond it, filter the table of all designs on Standings.`;
      return;
    }
    const values = stretch();
    if (!values.length || values.some(value => Number.isNaN(value)) || values[0] > values.at(-1)) {
      said.textContent = "No design lies between these.";
      return;
    }
    touched = true;
    built = built.then(() => {
      asked = new URLSearchParams([...drawn().filter(([side]) => side !== by.value), [by.value, written(values)]]);
      return draw();
    });
  });
  document.getElementById("clear").addEventListener("click", () => choose(/./));
  new ResizeObserver(() => { if (width && Math.abs(holder.clientWidth - width) > 30) build(); }).observe(holder);
  foilsweep.waiting.push(build().then(offer));
})();
