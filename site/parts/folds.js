"use strict";
// Long tables lie folded, some only where the screen is narrow. An address that names a fold, or what is in one, opens it; the
// address names the fold that a reader opened last, unless it keeps choices. Paper shows every table that is folded.

(() => {
  const folds = [...document.querySelectorAll("details")];
  if (matchMedia("(max-width: 40rem)").matches) for (const fold of folds) if ("narrow" in fold.dataset) fold.open = false;

  function reach() {
    const there = /^#[\w-]+$/.test(location.hash) && document.getElementById(location.hash.slice(1));
    if (!there) return;
    for (let fold = there.closest("details"); fold; fold = fold.parentElement.closest("details")) fold.open = true;
    there.scrollIntoView();
  }
  reach();
  addEventListener("hashchange", reach);

  for (const fold of folds.filter(each => each.id)) {
    fold.querySelector("summary").addEventListener("click", () => {
      if (!fold.open && !location.hash.includes("=")) history.replaceState(null, "", `#${fold.id}`);
    });
  }

  let shut = [];
  addEventListener("beforeprint", () => {
    shut = folds.filter(fold => !fold.open && fold.matches(".fold"));
    for (const fold of shut) fold.open = true;
  });
  addEventListener("afterprint", () => { for (const fold of shut) fold.open = false; });
})();
