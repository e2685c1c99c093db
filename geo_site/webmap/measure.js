"use strict";
// A tape on the map: each tap or Enter adds a point, the words tell the last leg and the sum.
const Tape = (() => {
  let points = null;
  let drawn = null;

  const button = () => Words.find("measure");
  const isOut = () => points !== null;

  function settle() {
    button().addEventListener("click", () => (isOut() ? end() : begin()));
    Words.find("take-back").addEventListener("click", () => {
      points.pop();
      update();
    });
    Words.find("measure-end").addEventListener("click", () => {
      end();
      button().focus();
    });
  }

  function begin() {
    points = [];
    button().setAttribute("aria-pressed", "true");
    Words.find("measuring").hidden = false;
    document.body.classList.add("is-measuring");
    update();
  }

  function end() {
    points = null;
    button().setAttribute("aria-pressed", "false");
    Words.find("measuring").hidden = true;
    document.body.classList.remove("is-measuring");
    if (drawn) drawn.remove();
    drawn = null;
  }

  function add(point) {
    points.push(point);
    update();
  }

  function sum() {
    return points.slice(1).reduce((all, point, i) => all + Shapes.between(points[i], point), 0);
  }

  function told() {
    if (!points.length) return "Measure: tap the first point, or press Enter under the cross.";
    if (points.length === 1) return "Measure: tap the next point.";
    const last = Shapes.between(points[points.length - 2], points[points.length - 1]);
    const whole = `Distance on the grid, flat: ${Words.length(sum())}`;
    return points.length === 2 ? `${whole}.` : `${whole}; the last leg ${Words.length(last)}.`;
  }

  function update() {
    Words.fill("measured", told());
    Words.find("take-back").disabled = points.length === 0;
    if (drawn) drawn.remove();
    drawn = L.layerGroup();
    const look = { interactive: false, pane: "markerPane", fill: false };
    for (const className of ["tape-under", "tape"]) {
      drawn.addLayer(L.polyline(points.map(Plat.at), { ...look, className }));
    }
    points.forEach((point) =>
      drawn.addLayer(L.circleMarker(Plat.at(point), { ...look, radius: 4, className: "tape" }))
    );
    drawn.addTo(Plat.leaflet());
  }

  return { settle, isOut, add, end };
})();
