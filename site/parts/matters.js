"use strict";
// The response and the design that the charts show; the address keeps both.

(() => {
  const choices = ["response", "design"].map(name => document.getElementById(name)).filter(Boolean);

  function show() {
    for (const choice of choices) {
      const value = choice.id === "design" ? Number(choice.value) : choice.value;
      for (const { view, params } of Object.values(foilsweep.views)) {
        if (params.some(param => param.name === choice.id)) view.signal(choice.id, value).run();
      }
      if (choice.id !== "response") continue;
      for (const part of document.querySelectorAll("[data-response]")) part.hidden = part.dataset.response !== value;
      for (const part of document.querySelectorAll("[data-chosen]")) part.textContent = choice.selectedOptions[0].textContent;
    }
  }

  for (const choice of choices) {
    foilsweep.take(choice);
    choice.addEventListener("input", () => {
      foilsweep.keep(choices.map(each => [each.id, each.value]), true);
      show();
    });
  }
  foilsweep.waiting.push(Promise.all(foilsweep.waiting).then(show));
})();
