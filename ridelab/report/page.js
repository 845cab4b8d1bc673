(() => {
  "use strict";
  const options = { actions: false, renderer: "svg", ast: true, config: CHART_LOOK };
  const paperPx = 680; // an A4 page between margins of 15 mm, at 96 px an inch
  const [sliceMs, longestMs] = [40, 200]; // of drawing; the longer one where nobody touches the page
  const figures = [...document.querySelectorAll("figure")];
  const placeOf = (figure) => figure.querySelector(".chart");
  const views = new Map();
  // Charts of one section are as wide as each other; to ask each anew would lay out the page anew.
  let widths = new Map();
  const widthOf = (figure) => {
    const box = figure.parentElement;
    if (!widths.get(box)) widths.set(box, figure.clientWidth); // of a folded one it is 0
    return widths.get(box);
  };
  const draw = async (figure) => {
    const place = placeOf(figure);
    try {
      const spec = JSON.parse(figure.querySelector("script").textContent);
      spec.width = widthOf(figure);
      views.set(figure, (await vegaEmbed(place, spec, options)).view);
      return 1;
    } catch (error) {
      place.textContent = "This chart could not be drawn; its figures stand in the table beside it.";
      console.error(error);
      return 0;
    }
  };

  // What is in sight is drawn first, the rest one by one, a slice of time at once.
  // A chart is as wide as its box, and a folded box has no width: what is folded waits.
  const waiting = new Set(figures);
  const near = new Set();
  const sight = new IntersectionObserver((seen) => seen.forEach(({ isIntersecting, target }) => {
    if (isIntersecting) near.add(target); else near.delete(target);
  }), { rootMargin: "50%" });
  figures.forEach((figure) => sight.observe(figure));
  const next = () => {
    const open = [...waiting].filter((figure) => !figure.closest("details:not([open])"));
    return open.find((figure) => near.has(figure)) || open[0];
  };
  const breathe = () => new Promise((go) => setTimeout(go)); // waiting for an idle page took longer than drawing
  const nobodyWaits = () => navigator.scheduling?.isInputPending?.({ includeContinuous: true }) === false;
  let drawing = false;
  const drawAll = async () => {
    if (drawing) return;
    drawing = true;
    let [drawn, since] = [window.READY || 0, performance.now()];
    for (let figure = next(); figure; figure = next()) {
      waiting.delete(figure);
      sight.unobserve(figure);
      drawn += await draw(figure);
      if (near.delete(figure)) land(); // charts above have grown since
      const spent = performance.now() - since;
      if (spent < sliceMs || (spent < longestMs && nobodyWaits())) continue;
      await breathe();
      since = performance.now();
    }
    drawing = false;
    window.READY = drawn;
    land();
  };
  const fit = (figure, width = widthOf(figure)) => {
    const view = views.get(figure);
    if (view && width && view.signal("width") !== width) view.signal("width", width).run();
  };
  window.addEventListener("resize", () => {
    widths = new Map();
    views.forEach((_, figure) => fit(figure));
  });
  const folds = [...document.querySelectorAll("details")];
  const unfolded = (event) => {
    const inside = [...event.target.querySelectorAll("figure")];
    if (!event.target.open || !inside.length) return;
    inside.forEach((figure) => fit(figure)); // the page may have another width than when it was folded away
    drawAll();
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
    const spot = (sought.matches("section") && sought.querySelector("h2, h3, h4")) || sought;
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
  window.addEventListener("beforeprint", () => views.forEach((_, figure) => fit(figure, paperPx)));
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
