"use strict";
// Draws the charts of a page from the data files beside it. Nothing here knows what a chart shows.

const foilsweep = window.foilsweep = Object.assign({ data: {} }, window.foilsweep, { views: {}, waiting: [] });

// The rows of a data file, which holds one array for each column, or the steps from each number of it to the next.
foilsweep.rows = (() => {
  const made = {};
  function summed({ of, by }) {
    let sum = 0;
    return by.map(step => step === null ? null : (sum += step) / of);
  }
  return name => made[name] ??= (held => {
    const keys = Object.keys(held), columns = {};
    for (const key of keys) columns[key] = Array.isArray(held[key]) ? held[key] : summed(held[key]);
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
const short = value => typeof value === "number" && !Number.isInteger(value) ? Number(value.toPrecision(4)) : value;
const tip = tips => (value, escaped) => {
  if (typeof value !== "object") return escaped(value);
  const said = tips && "design" in value ? tips.map(([key, title]) => [title, value[key] ?? "not known"]) : Object.entries(value);
  const line = ([title, each]) => `<tr><td class="key">${escaped(title)}</td><td class="value">${escaped(short(each))}</td></tr>`;
  return `<table><tbody>${said.map(line).join("")}</tbody></table>`;
};

// What an axis is called, in as many lines as it takes not to be longer than its chart; one word alone may still be cut short.
// Pixels of a letter, and of what stands beside a chart, here and below: judgement.
function folded(spec, width) {
  const letters = Math.max(14, Math.floor((width - 90) / 6.5));
  for (const { encoding } of [spec, ...spec.layer || []]) {
    if (typeof encoding?.x?.title !== "string" || encoding.x.title.length <= letters) continue;
    encoding.x.title = encoding.x.title.split(" ").reduce((lines, word) => {
      const longer = `${lines.at(-1)} ${word}`;
      return lines.length && longer.length <= letters ? [...lines.slice(0, -1), longer] : [...lines, word];
    }, []);
  }
  spec.config.axisX = { ...spec.config.axisX, titleLimit: width - 60 };
}

// So many names side by side above a chart that they stand within it; one that is longer still is cut short.
function named(spec, width) {
  const names = Object.values(spec.params.find(param => param.name === "names")?.value ?? {});
  const longest = 7 * Math.max(0, ...names.map(name => name.length)) + 40;
  const columns = width < 340 || 2 * longest > width ? 1 : width < 480 ? 2 : 6;
  Object.assign(spec.config.legend, { columns, labelLimit: Math.min(320, columns > 2 ? 320 : width / columns - 60) });
}

const namesOf = spec => [spec, ...spec.layer || []].map(part => part.data?.name).filter(Boolean);

// Draws a chart into the element of this id; a point that has a page leads to it, any other is handed to `picked`.
// `rows` gives the rows of a data file by its name: all of them, unless a page draws some.
foilsweep.draw = async (id, spec, picked = () => {}, rows = foilsweep.rows) => {
  const holder = document.getElementById(id);
  const width = await foilsweep.width(holder);
  named(spec, width);
  folded(spec, width);
  for (const [param, colour] of colours(spec.params)) param.value = colour;
  const names = namesOf(spec).filter(name => name in foilsweep.data);
  spec.datasets = { ...Object.fromEntries(names.map(name => [name, rows(name)])), ...spec.datasets };
  const { view } = await vegaEmbed(holder, spec, {
    ast: true, actions: false, defaultStyle: false, renderer: holder.dataset.renderer || "svg",
    tooltip: { disableDefaultStyle: true, theme: "page", formatTooltip: tip(spec.usermeta?.tips) }, patch: quiet,
  });
  foilsweep.views[id] = { view, params: spec.params };
  follow(holder, view, picked);
  step(holder, view, spec.usermeta?.tips, picked);
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

// Every mark of a chart that says something, with where its group begins in the chart's own pixels, until `seen` returns true.
function someMark(view, seen) {
  return (function walk(item, x, y) {
    if (/^(axis|legend|title)/.test(item.role || "")) return false;
    return (item.items || []).some(inner => {
      if (item.marktype && item.marktype !== "group") return inner.tooltip && seen(inner, x, y);
      return item.marktype ? walk(inner, x + (inner.x || 0), y + (inner.y || 0)) : walk(inner, x, y);
    });
  })(view.scenegraph().root, 0, 0);
}

const escaped = value => String(value).replace(/[&<>"]/g, sign => `&#${sign.charCodeAt(0)};`);

// What a chart's marks say, each thing once, with the middle of its mark in the window.
function saying(holder, view, tips) {
  const found = new Map(), [across, down] = view.origin(), { left, top } = view.padding();
  const box = holder.querySelector("svg, canvas").getBoundingClientRect();
  someMark(view, ({ tooltip, datum, bounds }, x, y) => {
    const words = tip(tips)(tooltip, escaped);
    const at = { x: box.x + across + left + x + (bounds.x1 + bounds.x2) / 2, y: box.y + down + top + y + (bounds.y1 + bounds.y2) / 2 };
    if (!found.has(words)) found.set(words, { words, datum, ...at });
  });
  return [...found.values()];
}

// With the keyboard: arrows go from mark to mark, the page keys ten at a time; what a pointer is told is said, and Enter does
// what a click does.
function step(holder, view, tips, picked) {
  const KEYS = { ArrowRight: ["x", 1], ArrowLeft: ["x", -1], ArrowDown: ["y", 1], ArrowUp: ["y", -1], PageDown: ["x", 10], PageUp: ["x", -10] };
  const [said, ring] = ["said-of-mark", "at-mark"].map(id => document.getElementById(id) || document.body.appendChild(Object.assign(document.createElement("div"), { id })));
  let now = null;
  if (!someMark(view, () => true)) return;
  holder.tabIndex = 0;
  said.setAttribute("role", "status");
  said.hidden = ring.hidden = true;

  function show(words, x, y) {
    said.innerHTML = words;
    said.hidden = false;
    said.style.left = `${Math.max(0, Math.min(x + 14, innerWidth - said.offsetWidth - 8))}px`;
    said.style.top = `${y + 14}px`;
  }

  function go([along, by]) {
    const other = along === "x" ? "y" : "x";
    const every = saying(holder, view, tips).sort((one, two) => one[along] - two[along] || one[other] - two[other]);
    const at = every.findIndex(each => each.words === now?.words);
    now = every[at < 0 ? 0 : Math.max(0, Math.min(every.length - 1, at + by))];
    if (!now) return;
    const off = now.y < 60 ? now.y - 60 : Math.max(0, now.y + 160 - innerHeight);
    scrollBy({ top: off, behavior: "instant" });
    show(now.words, now.x, now.y - off);
    ring.hidden = false;
    Object.assign(ring.style, { left: `${now.x}px`, top: `${now.y - off}px` });
  }

  function leave() {
    said.hidden = ring.hidden = true;
    now = null;
  }

  holder.onblur = leave;
  holder.onfocus = () => {
    if (!holder.matches(":focus-visible")) return;
    const { left, top } = holder.getBoundingClientRect();
    show("Arrow keys go from mark to mark.", left, Math.max(0, top));
  };
  holder.onkeydown = event => {
    if (event.key === "Escape") leave();
    if (event.key === "Enter" && now?.datum.label) { if (now.datum.page) location.href = now.datum.page; else picked(now.datum); }
    if (!(event.key in KEYS)) return;
    event.preventDefault();
    go(KEYS[event.key]);
  };
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

const load = source => new Promise((resolve, reject) => {
  document.body.append(Object.assign(document.createElement("script"), { src: source, onload: resolve, onerror: reject }));
});

// What outweighs the page comes when the rest is drawn: some data, the charts of it, and at last the script that needs both.
const later = document.currentScript?.dataset.later?.split(" ") ?? [], script = later.pop();
const late = later.map(source => source.replace(/^data\/|\.js$/g, ""));
const isLate = holder => namesOf(foilsweep.spec(holder.id)).some(name => late.includes(name));

function drawAll(holders) {
  for (const holder of holders) foilsweep.waiting.push(foilsweep.draw(holder.id, foilsweep.spec(holder.id)));
}

const holders = [...document.querySelectorAll("[data-chart]")];
drawAll(holders.filter(holder => !isLate(holder)));

addEventListener("DOMContentLoaded", async () => {
  await Promise.all(foilsweep.waiting);
  if (script) {
    await Promise.all(later.map(load));
    drawAll(holders.filter(isLate));
    await load(script);
    await Promise.all(foilsweep.waiting);
  }
  document.documentElement.dataset.ready = "yes";
});
