"use strict";
(() => {
  const options = { actions: false, renderer: "svg", ast: true };
  const draw = async (figure) => {
    const place = figure.querySelector(".chart");
    try {
      await vegaEmbed(place, JSON.parse(figure.querySelector("script").textContent), options);
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
  };
  const unfolded = (event) => {
    if (!event.target.open || !event.target.querySelector("figure")) return;
    drawAll();
    window.dispatchEvent(new Event("resize"));
  };
  document.querySelectorAll("details").forEach((one) => one.addEventListener("toggle", unfolded));
  drawAll();
})();
