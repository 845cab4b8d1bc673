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
  Promise.all(Array.from(document.querySelectorAll("figure"), draw)).then((drawn) => {
    window.READY = drawn.reduce((sum, one) => sum + one, 0);
  });
})();
