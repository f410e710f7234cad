"use strict";
// The table of all designs: sorted by a click on a heading, filtered by a line of words and comparisons; the address keeps both.

(() => {
  const PAGE = 25;
  const table = document.querySelector("[data-table]");
  const columns = JSON.parse(document.getElementById("table-columns").textContent);
  const rows = foilsweep.rows(table.dataset.table);
  const box = document.getElementById("filter"), said = document.getElementById("filter-said");
  const more = document.getElementById("more"), wide = document.getElementById("wide");
  const short = text => text.toLowerCase().replace(/[\s_-]+/g, "");
  const number = (value, column) => value == null ? "–" : value.toFixed(column.decimals).replace(/^-(?=[0.]*$)/, "");
  let order = { column: columns[0], down: false }, found = rows, shown = PAGE;

  // The column that a name means: its whole title, its address, or the only title that holds it.
  function column(written) {
    const name = short(written), exact = columns.filter(each => [each.title, each.key, each.label].some(own => own && short(own) === name));
    const holding = columns.filter(each => short(each.title).includes(name));
    if (exact.length) return exact[0];
    if (holding.length === 1) return holding[0];
    throw new Error(holding.length ? `which of ${holding.map(each => each.title).join(", ")} is “${name}”?`
      : `no column is called “${name}”`);
  }

  const compare = {
    "<": (a, b) => a < b, "<=": (a, b) => a <= b, ">": (a, b) => a > b, ">=": (a, b) => a >= b, "=": (a, b) => a === b,
  };

  // One word of the filter: 'mass<3.2' compares a column, anything else is looked for in the words of a row.
  function test(term) {
    const parts = /^(.+?)(<=|>=|<|>|=)(.+)$/.exec(term);
    if (!parts) return row => columns.some(each => each.word && short(String(row[each.key])).includes(short(term)));
    const [, name, sign, text] = parts, { key, word } = column(name), limit = Number(text);
    if (word) return row => short(String(row[key])) === short(text);
    if (Number.isNaN(limit)) throw new Error(`“${text}” is not a number`);
    return row => row[key] != null && compare[sign](row[key], limit);
  }

  function choose() {
    const terms = box.value.toLowerCase().replace(/\s*(<=|>=|<|>|=)\s*/g, "$1").split(/\s+/).filter(Boolean);
    try {
      const tests = terms.map(test);
      found = rows.filter(row => tests.every(each => each(row)));
      said.textContent = `${found.length} of ${rows.length} designs`;
    } catch (error) {
      said.textContent = error.message;
    }
    box.setAttribute("aria-invalid", said.textContent.endsWith("designs") ? "false" : "true");
  }

  function sort() {
    const { key, word } = order.column, way = order.down ? -1 : 1;
    const between = word ? (a, b) => a.localeCompare(b) : (a, b) => a - b;
    found = found.slice().sort((one, other) => {
      const a = one[key], b = other[key];
      if (a == null || b == null) return (a == null) - (b == null);
      return way * between(a, b) || one.place - other.place;
    });
  }

  function cell(row, each) {
    const td = document.createElement("td");
    td.className = `${each.word ? "word" : "number"}${each.main ? "" : " extra"}`;
    if (each.key === "design" && row.page) {
      const link = td.appendChild(document.createElement("a"));
      link.href = row.page;
      link.textContent = row.design;
    } else {
      td.textContent = each.word ? row[each.key] : number(row[each.key], each);
    }
    if (each.between && row[`${each.key}_low`] != null) {
      const span = td.appendChild(document.createElement("span"));
      span.className = "between";
      span.textContent = ` ${number(row[`${each.key}_low`], each)} to ${number(row[`${each.key}_high`], each)}`;
    }
    return td;
  }

  function show() {
    const body = document.createElement("tbody");
    for (const row of found.slice(0, shown)) {
      const tr = body.appendChild(document.createElement("tr"));
      tr.dataset.group = row.group;
      tr.append(...columns.map(each => cell(row, each)));
    }
    table.tBodies[0].replaceWith(body);
    more.hidden = found.length <= shown;
    for (const [i, th] of [...table.tHead.rows[0].cells].entries()) {
      const mine = columns[i] === order.column;
      th.setAttribute("aria-sort", mine ? (order.down ? "descending" : "ascending") : "none");
    }
  }

  const again = () => { choose(); sort(); show(); };
  const keep = () => foilsweep.keep([["show", box.value], ["by", order.column.key], ["down", order.down], ["every", wide.checked]]
    .filter(([, value]) => value));
  for (const [i, button] of [...table.tHead.querySelectorAll("button")].entries()) {
    button.addEventListener("click", () => {
      order = { column: columns[i], down: order.column === columns[i] && !order.down };
      again();
      keep();
    });
  }
  box.addEventListener("input", () => { shown = PAGE; again(); keep(); });
  more.addEventListener("click", () => { shown += PAGE; show(); });
  const spread = () => table.classList.toggle("narrow", !wide.checked);
  wide.addEventListener("change", () => { spread(); keep(); });

  const { asked } = foilsweep, by = columns.find(each => each.key === asked.get("by"));
  box.value = asked.get("show") ?? "";
  if (by) order = { column: by, down: asked.get("down") === "true" };
  wide.checked = asked.get("every") === "true";
  spread();
  again();
  if (asked.get("show") || by) foilsweep.waiting.push(Promise.all(foilsweep.waiting).then(() => box.scrollIntoView()));
})();
