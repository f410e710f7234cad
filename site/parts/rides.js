"use strict";
// The maps of one design at a time; the address keeps which.

(() => {
  const choice = document.getElementById("design"), parts = document.querySelectorAll("[data-design]");

  function show() {
    for (const part of parts) part.hidden = part.dataset.design !== choice.value;
    for (const { view } of Object.values(foilsweep.views)) view.signal("design", Number(choice.value)).run();
  }

  foilsweep.take(choice);
  choice.addEventListener("input", () => { foilsweep.keep([["design", choice.value]], true); show(); });
  foilsweep.waiting.push(Promise.all(foilsweep.waiting).then(show));
})();
