"use strict";
// Two or three designs side by side; the address keeps which.

(() => {
  const at = id => document.getElementById(id), read = id => JSON.parse(at(id).textContent);
  if (!at("compare-columns")) return;
  const rows = foilsweep.rows("designs"), numbered = new Map(rows.map(row => [row.design, row]));
  const columns = read("compare-columns"), pairs = read("compare-pairs"), first = read("compare-first");
  const choices = [...document.querySelectorAll("[data-place]")];
  const beside = foilsweep.rows("beside"), drawn = new Set(beside.map(row => row.design));
  const name = design => design === 0 ? "Base craft (0)" : `Design ${design}`;

  function element(tag, text, kind, parent) {
    const made = parent.appendChild(document.createElement(tag));
    if (text != null) made.textContent = text;
    if (kind) made.className = kind;
    return made;
  }

  function heads(table, chosen) {
    const line = document.createElement("tr");
    element("td", null, "", line);
    for (const design of chosen) {
      const th = element("th", null, "number", line), page = numbered.get(design).page;
      th.scope = "col";
      const link = element(page ? "a" : "span", name(design), "", th);
      if (page) link.href = page;
    }
    table.tHead.replaceChildren(line);
  }

  // How far a number lies from the first one, as a share of how far all designs lie apart.
  function bar(share, parent) {
    const svg = (tag, attributes, inside) => {
      const made = inside.appendChild(document.createElementNS("http://www.w3.org/2000/svg", tag));
      for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
      return made;
    };
    const drawing = svg("svg", { class: "apart", viewBox: "-51 0 102 8", "aria-hidden": "true" }, parent), long = 50 * Math.min(Math.abs(share), 1);
    svg("rect", { x: share < 0 ? -long : 0, y: 1, width: long, height: 6 }, drawing);
    svg("path", { d: "M 0 0 V 8" }, drawing);
  }

  // A line of the table; what differs has a bar, if it is a number. apart: of the first and each, in the unit of all; or none.
  function line(title, values, body, spans = [], apart = []) {
    const tr = element("tr", null, new Set(values).size > 1 ? "differs" : "", body), th = element("th", title, "word", tr);
    th.scope = "row";
    values.forEach((value, place) => {
      const td = element("td", value, "number", tr);
      if (spans[place]) element("span", spans[place], "between", td);
      if (apart[place]) bar(apart[place], td);
    });
  }

  // Of numbers, how far each lies from the first, where the whole table of them reaches from the least to the most.
  function apart(shown, every) {
    const known = every.filter(Number.isFinite), reach = known.length ? Math.max(...known) - Math.min(...known) : 0;
    return shown.map(each => Number.isFinite(each) && Number.isFinite(shown[0]) && reach ? (each - shown[0]) / reach : 0);
  }

  function value(row, column) {
    const shown = row[column.key];
    if (shown == null || (column.key === "gain" && row.design === 0)) return "–";
    return column.word ? String(shown).replaceAll("-", " ") : column.between ? shown.toFixed(column.decimals) : shown;
  }

  function between(row, column) {
    const ends = ["low", "high"].map(end => row[`${column.key}_${end}`]);
    if (!column.between || ends.includes(undefined) || ends.includes(null) || value(row, column) === "–") return "";
    return ` ${ends.map(end => end.toFixed(column.decimals)).join(" to ")}`;
  }

  function numbers(chosen) {
    const body = document.createElement("tbody");
    heads(at("numbers"), chosen);
    for (const column of columns) {
      const shown = chosen.map(design => numbered.get(design)), title = column.title.replace(/[._]/g, "$&\u200b");
      const of = row => column.word || value(row, column) === "–" ? NaN : row[column.key];
      line(column.unit ? `${title}, ${column.unit}` : title, shown.map(row => value(row, column)), body,
        shown.map(row => between(row, column)), apart(shown.map(of), rows.map(of)));
    }
    at("numbers").tBodies[0].replaceWith(body);
  }

  function conditions(chosen) {
    if (!at("conditions")) return;
    const known = chosen.filter(design => drawn.has(design)), body = document.createElement("tbody");
    heads(at("conditions"), known);
    for (const condition of new Set(beside.map(row => row.name))) {
      const scores = known.map(design => beside.find(row => row.design === design && row.name === condition).score);
      line(condition, scores.map(score => score ?? "–"), body, [], apart(scores, beside.map(row => row.score)));
    }
    at("conditions").tBodies[0].replaceWith(body);
    at("conditions-note").textContent = known.length < chosen.length
      ? `Less is better. Only designs with a page are here: not ${chosen.filter(design => !drawn.has(design)).join(", ")}.` : "Less is better.";
    const figures = [...document.querySelectorAll("[data-drawn]")], place = figure => known.indexOf(Number(figure.dataset.drawn));
    for (const figure of figures) figure.hidden = place(figure) < 0;
    figures[0]?.parentNode.append(...figures.sort((one, other) => place(one) - place(other)));
  }

  function said(chosen) {
    at("pairs").replaceChildren();
    chosen.forEach((one, place) => chosen.slice(place + 1).forEach(other => {
      const known = pairs[[one, other].sort((a, b) => a - b).join(" ")];
      element("li", known ?? `${name(one)} and ${name(other)}: one of them has no page, so only the intervals below compare them.`, "", at("pairs"));
    }));
  }

  function show() {
    const chosen = [...new Set(choices.map(choice => choice.value).filter(Boolean).map(Number))];
    said(chosen);
    numbers(chosen);
    conditions(chosen);
  }

  const asked = (foilsweep.asked.get("designs") || "").split(",").filter(Boolean).map(Number)
    .filter(design => numbered.has(design));
  const shown = asked.length ? asked : first;
  choices.forEach((choice, place) => {
    if (place > 0) choice.append(new Option("none", ""));
    for (const { design } of rows) choice.append(new Option(name(design), design));
    choice.value = shown[place] ?? (place ? "" : first[0]);
    choice.addEventListener("input", () => {
      foilsweep.keep({ designs: choices.map(each => each.value).filter(Boolean).join() }, true);
      show();
    });
  });
  show();
})();
