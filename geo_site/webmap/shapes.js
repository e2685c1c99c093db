"use strict";
// Plain geometry on flat lists east, north, east, north ..., in metres.
const Shapes = (() => {
  function pairs(flat) {
    const found = [];
    for (let i = 0; i + 1 < flat.length; i += 2) found.push([flat[i], flat[i + 1]]);
    return found;
  }

  // Leaflet counts latitude, that is north, first.
  const northFirst = (flat) => pairs(flat).map(([east, north]) => [north, east]);

  function inRing([x, y], ring) {
    let inside = false;
    for (let i = 0, j = ring.length - 2; i < ring.length; j = i, i += 2) {
      const crosses = ring[i + 1] > y !== ring[j + 1] > y;
      if (crosses && x < ring[i] + ((y - ring[i + 1]) / (ring[j + 1] - ring[i + 1])) * (ring[j] - ring[i])) {
        inside = !inside;
      }
    }
    return inside;
  }

  // A point in a hole is in two rings of its polygon, and so in none of it.
  const inArea = (point, polygons) =>
    polygons.some((rings) => rings.filter((ring) => inRing(point, ring)).length % 2 === 1);

  // The nearest spot of a line: how far off it is, on which leg, and at which share of that leg.
  function nearest([x, y], flat) {
    let best = { away: Infinity, leg: 0, share: 0 };
    if (flat.length === 2) {
      return { away: Math.hypot(x - flat[0], y - flat[1]), leg: 0, share: 0 };
    }
    for (let i = 0; i + 3 < flat.length; i += 2) {
      const [ax, ay, bx, by] = flat.slice(i, i + 4);
      const span = (bx - ax) ** 2 + (by - ay) ** 2;
      const share = span ? Math.min(1, Math.max(0, ((x - ax) * (bx - ax) + (y - ay) * (by - ay)) / span)) : 0;
      const away = Math.hypot(x - ax - share * (bx - ax), y - ay - share * (by - ay));
      if (away < best.away) best = { away, leg: i / 2, share };
    }
    return best;
  }

  const lines = (shape, kind) => (kind === "area" ? shape.flat() : kind === "line" ? shape : [shape]);

  // Distance from a point to a feature; inside an area it is nothing.
  function away(point, shape, kind) {
    if (kind === "area" && inArea(point, shape)) return 0;
    return Math.min(Infinity, ...lines(shape, kind).map((flat) => nearest(point, flat).away));
  }

  // Distance from a point to the edge of an area, from either side.
  const toEdge = (point, polygons) =>
    Math.min(Infinity, ...polygons.flat().map((ring) => nearest(point, ring).away));

  function bounds(shape, kind) {
    const all = lines(shape, kind).flatMap(pairs);
    const easts = all.map((one) => one[0]);
    const norths = all.map((one) => one[1]);
    return [Math.min(...easts), Math.min(...norths), Math.max(...easts), Math.max(...norths)];
  }

  function ringArea(ring) {
    let twice = 0;
    for (let i = 0, j = ring.length - 2; i < ring.length; j = i, i += 2) {
      twice += ring[j] * ring[i + 1] - ring[i] * ring[j + 1];
    }
    return Math.abs(twice) / 2;
  }

  const size = (shape, kind) =>
    kind === "area" ? shape.reduce((sum, rings) => sum + ringArea(rings[0]), 0) : 0;

  const between = ([ax, ay], [bx, by]) => Math.hypot(bx - ax, by - ay);

  return { pairs, northFirst, inArea, nearest, away, toEdge, bounds, size, between };
})();
