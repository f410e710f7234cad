"use strict";
// Shows the keys of which the address or the meaning has every word that is sought. Without it all of them stand there.
const rows = [...document.querySelectorAll("#keys tbody tr")];
const texts = rows.map((row) => row.textContent.toLowerCase());
const field = document.getElementById("find");
const found = document.getElementById("found");

function show() {
  const words = field.value.toLowerCase().split(/\s+/).filter(Boolean);
  let shown = 0;
  rows.forEach((row, at) => {
    const fits = words.every((word) => texts[at].includes(word));
    row.hidden = !fits;
    shown += fits ? 1 : 0;
  });
  found.textContent = words.length ? `${shown} of ${rows.length}` : "";
}

document.getElementById("finding").hidden = false;
field.addEventListener("input", show);
show();
