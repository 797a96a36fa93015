/* Draws each element that has data-figure-url, from the figure JSON found there.
   Sets data-done to "drawn", or to "failed" with a sentence and the table twin opened. */
(function () {
  "use strict";

  const NARROW = 560;
  const CONFIG = { displayModeBar: false, scrollZoom: false, doubleClick: false, responsive: true };

  function put(layout, dotted, value) {
    const names = dotted.split(".");
    const last = names.pop();
    const place = names.reduce(function (at, name) {
      if (at[name] === undefined) at[name] = {};
      return at[name];
    }, layout);
    place[last] = value;
  }

  function layoutFor(figure, narrow) {
    const layout = structuredClone(figure.layout);
    if (narrow) {
      for (const [dotted, value] of Object.entries(layout.meta.narrow)) put(layout, dotted, value);
    }
    return layout;
  }

  function isNarrow(place) {
    return place.clientWidth < NARROW;
  }

  async function draw(place) {
    const answer = await fetch(place.dataset.figureUrl, {
      headers: { Accept: "application/json" },
      credentials: "same-origin",
    });
    if (!answer.ok) throw new Error("status " + answer.status);
    const figure = await answer.json();
    place.replaceChildren();
    let narrow = isNarrow(place);
    await Plotly.newPlot(place, figure.data, layoutFor(figure, narrow), CONFIG);
    place.dataset.done = "drawn";
    new ResizeObserver(function () {
      if (isNarrow(place) === narrow) return;
      narrow = isNarrow(place);
      Plotly.react(place, figure.data, layoutFor(figure, narrow), CONFIG);
    }).observe(place);
  }

  function giveUp(place) {
    const sentence = document.createElement("p");
    sentence.textContent = "The drawing could not be fetched. The table below has the same numbers.";
    place.replaceChildren(sentence);
    const twin = place.closest("figure").querySelector("details");
    if (twin) twin.open = true;
    place.dataset.done = "failed";
  }

  for (const place of document.querySelectorAll("[data-figure-url]")) {
    draw(place).catch(function (reason) {
      console.error(reason);
      giveUp(place);
    });
  }
})();
