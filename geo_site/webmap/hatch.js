"use strict";
// Hatches of areas as patterns, made once each; the map and its key refer to them.
const Hatch = (() => {
  const TURNS = { slash: -45, backslash: 45, cross: 45, grid: 0, level: 0, upright: 90, dots: 0 };
  const BOTH = new Set(["cross", "grid"]);
  const made = new Set();
  let store = null;

  // The store has no size, but is not hidden: a pattern in a hidden drawing paints nothing.
  function keep() {
    store = Words.draw("svg", { width: 0, height: 0, class: "store", "aria-hidden": "true" });
    document.body.append(store);
  }

  function pattern(id, { hatch, every, line, stroke }) {
    const half = every / 2;
    const drawn =
      hatch === "dots"
        ? Words.draw("circle", { cx: half, cy: half, r: Math.max(line, 1), fill: stroke })
        : Words.draw("path", {
            d: `M0 ${half}H${every}${BOTH.has(hatch) ? `M${half} 0V${every}` : ""}`,
            stroke,
            "stroke-width": Math.max(line, 0.8),
          });
    return Words.draw(
      "pattern",
      { id, width: every, height: every, patternUnits: "userSpaceOnUse", patternTransform: `rotate(${TURNS[hatch]})` },
      drawn
    );
  }

  // What to fill an area with besides its colour; nothing where the look has no hatch.
  function paint(symbol) {
    if (!symbol.hatch) return null;
    const id = `hatch-${symbol.hatch}-${symbol.stroke.slice(1)}-${Math.round(symbol.every * 100)}`;
    if (!store) keep();
    if (!made.has(id)) store.append(pattern(id, symbol));
    made.add(id);
    return `url(#${id})`;
  }

  return { paint };
})();
