"use strict";
// Boxes of levels and a brush over scores leave designs in or out of the chart of choices; a sentence counts what is left, and
// names the first of it in the order of the standings, which is that of the rows.

addEventListener("DOMContentLoaded", async () => {
  const said = document.getElementById("choices-said");
  if (!said) return;
  await Promise.all(foilsweep.waiting);
  const { view } = foilsweep.views.choices, boxes = [...document.querySelectorAll(".boxes input")];
  const LISTED = 5, designs = new Map(), ends = [-Infinity, Infinity];
  let out = {};
  const drawn = new Map();
  for (const row of foilsweep.rows("choices")) {
    if (!drawn.has(row.design)) drawn.set(row.design, { ...row, kept: ["good enough", "kept"].includes(row.group), levels: {} });
    drawn.get(row.design).levels[row.f] = row.place;
  }
  const worst = Math.max(...[...drawn.values()].map(row => row.at));
  const undrawn = row => ({ ...row, label: `${row.design}`, at: Math.min(row.score, worst), levels: row.places.split(",").map(Number) });
  // Where only some are drawn, all are counted.
  const rows = "everyone" in foilsweep.data ? foilsweep.rows("everyone").map(row => drawn.get(row.design) ?? undrawn(row)) : drawn.values();
  for (const row of rows) designs.set(row.design, row);

  const span = (rows, key) => {
    const values = rows.map(row => row[key]).filter(Number.isFinite);
    const short = value => Number(value.toPrecision(3));
    if (!values.length) return "";
    const low = short(Math.min(...values)), high = short(Math.max(...values));
    return low === high ? `${low}` : `${low} to ${high}`;
  };

  function tell() {
    const [low, high] = (view.data("scores_store")[0]?.values[0] ?? [-Infinity, Infinity]).slice().sort((a, b) => a - b);
    const rows = [...designs.values()].filter(row => !out[row.design] && row.at >= low && row.at <= high);
    const costs = [["mass", " kg"], ["price", " in price"]].map(([key, unit]) => [span(rows, key), unit]).filter(([text]) => text);
    const kept = rows.filter(row => row.kept).length;
    said.textContent = rows.length
      ? `Chosen: ${rows.length} of ${designs.size}; score ${span(rows, "score")}${costs.map(([text, unit]) => `; ${text}${unit}`).join("")}; ${kept} known to keep every limit. `
      : `Chosen: none of ${designs.size}.`;
    rows.slice(0, LISTED).forEach((row, at) => {
      const name = document.createElement(row.page ? "a" : "span");
      if (row.page) name.href = row.page;
      name.textContent = `design ${row.label}`;
      said.append(at ? ", " : "First of them: ", name);
    });
  }

  async function choose() {
    const kept = {};
    for (const box of boxes) if (box.checked) (kept[box.dataset.factor] ??= new Set()).add(Number(box.dataset.place));
    out = {};
    for (const [design, { levels, score }] of designs) {
      const within = score >= ends[0] && score <= ends[1];
      if (!within || !Object.entries(levels).every(([factor, place]) => kept[factor]?.has(place))) out[design] = true;
    }
    await view.signal("left_out", out).runAsync();
    tell();
  }

  for (const box of boxes) box.addEventListener("change", choose);
  // What the brush does, by numbers: for who has no pointer.
  const field = document.querySelector(".boxes").appendChild(document.createElement("fieldset"));
  field.appendChild(document.createElement("legend")).textContent = "score";
  ["from", "to"].forEach((word, at) => {
    const label = field.appendChild(Object.assign(document.createElement("label"), { className: "tick", textContent: word }));
    const input = label.appendChild(Object.assign(document.createElement("input"), { type: "number", step: "any", className: "short" }));
    input.addEventListener("input", () => { ends[at] = input.value === "" ? [-Infinity, Infinity][at] : Number(input.value); choose(); });
  });
  view.addSignalListener("scores", () => view.runAfter(tell));
  await choose();
});
