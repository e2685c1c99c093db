"use strict";
// What the ground itself says at a place: its level, whether a basin's pit may stand there, and why not.
const Ground = (() => {
  let grid = null;
  let cells = null;
  let taken = null;
  let layers = null;

  function settle(plan, byName) {
    grid = plan.ground;
    taken = plan.taken;
    layers = byName;
    if (!grid) return;
    const bytes = Uint8Array.from(atob(grid.cells), (letter) => letter.charCodeAt(0));
    cells = new DataView(bytes.buffer);
  }

  function cell(row, column) {
    if (row < 0 || column < 0 || row >= grid.rows || column >= grid.columns) return NaN;
    const steps = cells.getUint16(2 * (row * grid.columns + column), true);
    return steps === 65535 ? NaN : grid.low + steps * grid.step;
  }

  // Between the middles of four cells, as the plan itself reads its terrain.
  function level([east, north]) {
    if (!grid) return NaN;
    const across = (east - grid.west) / grid.width;
    const down = (grid.north - north) / grid.height;
    const column = Math.min(Math.floor(across), grid.columns - 2);
    const row = Math.min(Math.floor(down), grid.rows - 2);
    const right = across - column;
    const low = down - row;
    const upper = cell(row, column) * (1 - right) + cell(row, column + 1) * right;
    const lower = cell(row + 1, column) * (1 - right) + cell(row + 1, column + 1) * right;
    return upper * (1 - low) + lower * low;
  }

  function levelWords(point) {
    const metres = level(point);
    if (!Number.isFinite(metres)) return "Ground level: no terrain data here.";
    return `Ground level ${grid.whole ? "" : "about "}${Words.level(metres)}, as flown.`;
  }

  function pieces(name, point) {
    const features = layers.get(name).features;
    return taken[name].filter((told, i) => Shapes.inArea(point, features[i].shape));
  }

  function toTaken(point) {
    const shapes = ["blocked_ground", "hand_dig_ground"].flatMap((name) => layers.get(name).features);
    return Math.min(Infinity, ...shapes.map((one) => Shapes.toEdge(point, one.shape)));
  }

  // The head says in a word what the rows give the reasons for.
  function why(point) {
    const blocked = pieces("blocked_ground", point);
    const byHand = pieces("hand_dig_ground", point);
    if (blocked.length) {
      return { word: "blocked", head: "The basin's pit may not stand here. Taken by:", rows: blocked };
    }
    if (byHand.length) {
      return { word: "by hand", head: "The basin's pit may stand here only if it is dug so:", rows: byHand };
    }
    if (!layers.get("parcel").features.some((lot) => Shapes.inArea(point, lot.shape))) {
      return { word: "outside", head: "Outside the lot: nothing may be built here.", rows: [] };
    }
    const free = toTaken(point);
    const rows = Number.isFinite(free) ? [`Nearest ground that a rule takes: ${Words.length(free)} away.`] : [];
    return { word: "open", head: "Open: no rule known here keeps the basin's pit off this point.", rows };
  }

  return { settle, level, levelWords, why };
})();
