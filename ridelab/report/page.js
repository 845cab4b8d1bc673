"use strict";
(() => {
  const options = { actions: false, renderer: "svg", ast: true };
  const paperPx = 680; // an A4 page between margins of 15 mm, at 96 px an inch
  const views = [];
  const draw = async (figure) => {
    const place = figure.querySelector(".chart");
    try {
      const spec = JSON.parse(figure.querySelector("script").textContent);
      views.push((await vegaEmbed(place, spec, options)).view);
      return 1;
    } catch (error) {
      place.textContent = "This chart could not be drawn; its figures stand in the table beside it.";
      console.error(error);
      return 0;
    }
  };
  // A chart is as wide as its box, and a folded box has no width: what is folded waits.
  const waiting = new Set(document.querySelectorAll("figure"));
  const drawAll = async () => {
    const now = [...waiting].filter((figure) => figure.checkVisibility());
    now.forEach((figure) => waiting.delete(figure));
    const drawn = await Promise.all(now.map(draw));
    window.READY = drawn.reduce((sum, one) => sum + one, window.READY || 0);
    land(); // charts above have grown since
  };
  const folds = [...document.querySelectorAll("details")];
  const unfolded = (event) => {
    if (!event.target.open || !event.target.querySelector("figure")) return;
    drawAll();
    window.dispatchEvent(new Event("resize"));
  };
  folds.forEach((one) => one.addEventListener("toggle", unfolded));

  // Where a link leads: what it lies in is unfolded, and keyboard and screen reader go there, too.
  let sought = null;
  const byAddress = () => {
    let id;
    try {
      id = decodeURIComponent(location.hash.slice(1));
    } catch {
      return null;
    }
    // A claim without its vehicle, or a vehicle's charts: the first one.
    const first = () => [...document.querySelectorAll("[id]")].find((one) => one.id.startsWith(`${id}.`));
    return id && (document.getElementById(id) || first());
  };
  const arrive = () => {
    const target = byAddress();
    if (!target) return;
    folds.filter((fold) => fold.contains(target)).forEach((fold) => { fold.open = true; });
    sought = target;
    land();
  };
  const land = () => {
    if (!sought) return;
    const spot = (sought.matches("section") && sought.querySelector("h2, h3")) || sought;
    spot.tabIndex = -1;
    spot.focus({ preventScroll: true });
    sought.scrollIntoView();
  };
  ["wheel", "touchmove", "keydown", "pointerdown"].forEach((own) =>
    window.addEventListener(own, () => { sought = null; }, { passive: true }));
  window.addEventListener("hashchange", arrive);
  window.addEventListener("load", land); // until then the browser follows the link itself
  document.addEventListener("click", (event) => {
    const link = event.target.closest("a[href^='#']");
    if (link && link.getAttribute("href") === location.hash) arrive(); // again, so no change
  });

  // Paper shows what is unfolded; its charts are drawn as wide as paper, not shrunk to it.
  window.addEventListener("beforeprint", () => views.forEach((view) => view.signal("width", paperPx).run()));
  window.addEventListener("afterprint", () => window.dispatchEvent(new Event("resize")));
  const all = document.getElementById("unfold");
  all.hidden = folds.length === 0;
  all.addEventListener("click", () => {
    const open = folds.some((fold) => !fold.open);
    folds.forEach((fold) => { fold.open = open; });
    all.textContent = open ? "Fold away again" : "Unfold everything";
  });

  arrive();
  drawAll();
})();
