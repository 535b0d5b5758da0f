// Loads the pictures below a map: only those of the drawing that is in sight, wide or narrow.
(() => {
  const load = () => {
    for (const picture of document.querySelectorAll(".map .ground image:not([href])")) {
      if (picture.closest("svg").getClientRects().length) picture.setAttribute("href", picture.dataset.address);
    }
  };
  // A picture that can't be had leaves the ground empty; the lines are the map.
  document.addEventListener("error", (event) => {
    if (event.target.matches?.(".map .ground image")) event.target.remove();
  }, true);
  load();
  addEventListener("resize", load);
})();
