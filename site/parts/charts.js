"use strict";
// Draws the charts of a page from the data files beside it. Nothing here knows what a chart shows.

const foilsweep = window.foilsweep = Object.assign({ data: {} }, window.foilsweep, { views: {}, waiting: [] });

// The rows of a data file, which holds one array for each column.
foilsweep.rows = (() => {
  const made = {};
  return name => made[name] ??= (columns => {
    const keys = Object.keys(columns);
    return columns[keys[0]].map((_, i) => {
      const row = {};
      for (const key of keys) row[key] = columns[key][i];
      return row;
    });
  })(foilsweep.data[name]);
})();

// What the address asks for, as its part after '#' has it: '#across=mass&up=score'.
foilsweep.asked = new URLSearchParams(location.hash.slice(1));

// Puts a reader's choices into the address, so that it leads whoever gets it to the same view; a step: Back leads to the one before.
foilsweep.keep = (() => {
  let kept = location.hash;
  addEventListener("hashchange", () => { if (location.hash !== kept && /^$|=/.test(location.hash)) location.reload(); });
  return (choices, step = false) => {
    const text = new URLSearchParams(choices).toString().replaceAll("%2C", ",");
    if (text === location.hash.slice(1)) return;
    if (step) location.hash = text; else location.replace(`#${text}`);
    kept = location.hash;
  };
})();

// Takes the asked value of a choice, or the one that is called so, if it offers such a one.
foilsweep.take = choice => {
  const wanted = foilsweep.asked.get(choice.id);
  const option = [...choice.options].find(each => each.value === wanted || each.textContent === wanted);
  if (option) choice.value = option.value;
};

foilsweep.spec = id => JSON.parse(document.getElementById(`${id}-spec`).textContent);

// A signal that bears the name of a style sheet's colour takes that colour.
function colours(params) {
  const style = getComputedStyle(document.documentElement);
  return params.filter(param => !param.select)
    .map(param => [param, style.getPropertyValue(`--${param.name}`).trim()])
    .filter(([, colour]) => colour);
}

// An element's width, as soon as it has one: a page that opens in the background is laid out late.
foilsweep.width = holder => new Promise(resolve => {
  new ResizeObserver((_, observer) => {
    if (holder.clientWidth) { observer.disconnect(); resolve(holder.clientWidth); }
  }).observe(holder);
});

// Marks take no focus and are not read aloud, brushes neither: the chart's description, its axes and the table tell them.
function quiet(spec) {
  for (const mark of spec.marks || []) if (mark.type === "group") quiet(mark); else mark.aria = false;
  return spec;
}

// What is said of a mark: the values that it was given for that, or of a whole row those that the chart lists.
const tip = tips => (value, escaped) => {
  const said = tips && "design" in value ? tips.map(([key, title]) => [title, value[key] ?? "not known"]) : Object.entries(value);
  const line = ([title, each]) => `<tr><td class="key">${escaped(title)}</td><td class="value">${escaped(each)}</td></tr>`;
  return `<table><tbody>${said.map(line).join("")}</tbody></table>`;
};

// Draws a chart into the element of this id; a point that has a page leads to it, any other is handed to `picked`.
// `rows` gives the rows of a data file by its name: all of them, unless a page draws some.
foilsweep.draw = async (id, spec, picked = () => {}, rows = foilsweep.rows) => {
  const holder = document.getElementById(id);
  spec.config.legend.columns = await foilsweep.width(holder) < 480 ? 2 : 6;
  for (const [param, colour] of colours(spec.params)) param.value = colour;
  const names = [spec, ...spec.layer || []].map(part => part.data?.name).filter(name => name in foilsweep.data);
  spec.datasets = { ...Object.fromEntries(names.map(name => [name, rows(name)])), ...spec.datasets };
  const { view } = await vegaEmbed(holder, spec, {
    ast: true, actions: false, defaultStyle: false, renderer: holder.dataset.renderer || "svg",
    tooltip: { disableDefaultStyle: true, theme: "page", formatTooltip: tip(spec.usermeta?.tips) }, patch: quiet,
  });
  foilsweep.views[id] = { view, params: spec.params };
  follow(holder, view, picked);
  return view;
};

function follow(holder, view, picked) {
  let pressed = { x: 0, y: 0 };
  holder.addEventListener("pointerdown", event => {
    pressed = { x: event.clientX, y: event.clientY };
    // A canvas learns what lies under the pointer from a move only, and a touch begins without one.
    if (event.pointerType === "touch") event.target.dispatchEvent(new PointerEvent("pointermove", event));
  }, { capture: true });
  view.addEventListener("click", (event, item) => {
    const dragged = Math.hypot(event.clientX - pressed.x, event.clientY - pressed.y) > 4;
    if (dragged || !item?.datum?.label) return;
    if (item.datum.page) location.href = item.datum.page; else picked(item.datum);
  });
}

function recolour() {
  for (const { view, params } of Object.values(foilsweep.views)) {
    for (const [param, colour] of colours(params)) view.signal(param.name, colour);
    view.run();
  }
}

matchMedia("(prefers-color-scheme: dark)").addEventListener("change", recolour);
addEventListener("beforeprint", () => { document.documentElement.dataset.print = "yes"; recolour(); });
addEventListener("afterprint", () => { delete document.documentElement.dataset.print; recolour(); });

for (const holder of document.querySelectorAll("[data-chart]")) {
  foilsweep.waiting.push(foilsweep.draw(holder.id, foilsweep.spec(holder.id)));
}

addEventListener("DOMContentLoaded", async () => {
  await Promise.all(foilsweep.waiting);
  document.documentElement.dataset.ready = "yes";
});
