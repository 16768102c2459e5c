// The form that finds a box by its id.
"use strict";

(function () {
  const find = (id) => document.getElementById(id);
  const MOST_OFFERED = 12;

  // `onFound` is called with the number of the box among `ids`.
  boxround.addFinder = function (ids, onFound) {
    const folded = ids.map((id) => id.toLowerCase());
    find("find-box").addEventListener("input", (event) => {
      const wanted = event.target.value.trim().toLowerCase(), found = [];
      for (let i = 0; wanted && i < folded.length && found.length < MOST_OFFERED; i++) if (folded[i].includes(wanted)) found.push(ids[i]);
      find("find-boxes").replaceChildren(...found.map((id) => boxround.make("option", { value: id })));
    });
    find("find").addEventListener("submit", (event) => {
      event.preventDefault();
      const wanted = find("find-box").value.trim(), same = ids.indexOf(wanted), i = same < 0 ? folded.indexOf(wanted.toLowerCase()) : same;
      find("find-said").textContent = i < 0 && wanted ? "There is no box " + wanted + "." : "";
      if (i >= 0) onFound(i);
    });
  };
})();
