"use strict";
// The front between two columns that the reader chooses; the address keeps which.

(() => {
  const base = foilsweep.spec("tradeoffs"), fronts = JSON.parse(document.getElementById("fronts").textContent);
  const columns = Object.fromEntries(JSON.parse(document.getElementById("front-columns").textContent).map(each => [each.key, each]));
  const across = document.getElementById("across"), up = document.getElementById("up");
  const table = document.getElementById("front"), said = document.getElementById("said");
  const rows = foilsweep.rows("tradeoffs"), numbered = new Map(rows.map(row => [row.design, row]));
  let view = null, built = Promise.resolve();

  const chosen = () => fronts[[across.value, up.value].sort().join(" ")];

  // A column against itself has no front: the other one moves on.
  function apart(changed) {
    if (across.value !== up.value) return;
    const other = changed === across ? up : across;
    other.value = [...other.options].find(option => option.value !== changed.value).value;
  }

  async function draw() {
    const spec = structuredClone(base), { front, knee } = chosen();
    for (const layer of spec.layer) Object.assign(layer.encoding, { x: base.usermeta[across.value], y: base.usermeta[up.value] });
    const sorted = front.map(design => numbered.get(design)).filter(Boolean).sort((a, b) => a[across.value] - b[across.value] || b[up.value] - a[up.value]);
    spec.datasets = { front: sorted.map((row, order) => ({ ...row, order, knee: row.design === knee })) };
    view?.finalize();
    view = await foilsweep.draw("tradeoffs", spec);
    await view.runAsync();
    list(sorted, knee);
  }

  function list(sorted, knee) {
    const heads = table.tHead.rows[0].cells;
    [heads[1].textContent, heads[2].textContent] = [across, up].map(choice => columns[choice.value].heading);
    said.textContent = chosen().said;
    const body = document.createElement("tbody");
    for (const row of sorted) {
      const tr = body.appendChild(document.createElement("tr")), name = tr.appendChild(document.createElement("th"));
      name.scope = "row";
      name.className = "word";
      const link = name.appendChild(document.createElement("a"));
      link.href = row.page;
      link.textContent = `${row.design === 0 ? "base craft (0)" : row.label}${row.design === knee ? ", knee" : ""}`;
      for (const key of [across.value, up.value]) {
        const td = tr.appendChild(document.createElement("td"));
        td.className = "number";
        td.textContent = row[key] ?? "–";
      }
      const group = tr.appendChild(document.createElement("td"));
      group.className = "word";
      group.textContent = row.group;
    }
    table.tBodies[0].replaceWith(body);
    table.hidden = !sorted.length;
  }

  for (const choice of [across, up]) foilsweep.take(choice);
  apart(across);
  for (const choice of [across, up]) {
    choice.addEventListener("change", () => {
      apart(choice);
      foilsweep.keep({ across: across.value, up: up.value }, true);
      built = built.then(draw);
    });
  }
  foilsweep.waiting.push(built = draw());
})();
