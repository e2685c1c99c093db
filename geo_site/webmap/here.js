"use strict";
// What is at a place: the ground first, then every feature that the map shows within a finger's reach.
const Here = (() => {
  const REACH = { touch: 22, fine: 10 };
  const GROUND = new Set(["blocked_ground", "hand_dig_ground", "open_ground"]);
  const FIRST = { point: 0, line: 1, area: 2 };
  let layers = [];

  function settle(all) {
    layers = all;
    say("Nothing is chosen yet.");
  }

  function say(words) {
    Words.fill("here-body", Words.make("p", null, words));
  }

  // Points before lines before areas, a small area before the large one that it lies in.
  function within(point, reach) {
    const found = [];
    for (const layer of layers) {
      if (!layer.shown || GROUND.has(layer.name)) continue;
      layer.features.forEach((feature) => {
        if (!feature.shape.length || !layer.classes[feature.class].shown) return;
        // Everything lies in the lot: it is an answer only beside its own line.
        const kind = layer.name === "parcel" ? "line" : layer.kind;
        const shape = layer.name === "parcel" ? feature.shape.flat() : feature.shape;
        const away = Shapes.away(point, shape, kind);
        if (away <= (kind === "area" ? 0 : reach)) found.push({ layer, feature, away });
      });
    }
    return found.sort(
      (a, b) =>
        FIRST[a.layer.kind] - FIRST[b.layer.kind] ||
        Shapes.size(a.feature.shape, a.layer.kind) - Shapes.size(b.feature.shape, b.layer.kind) ||
        a.away - b.away
    );
  }

  function facts(layer, feature) {
    const list = Words.make("dl", { class: "facts" });
    layer.fields.forEach(([label, meaning], i) => {
      Words.put(
        list,
        Words.make("dt", null, label, Words.make("span", { class: "small" }, meaning)),
        Words.make("dd", null, Words.name(feature.values[i]))
      );
    });
    return list;
  }

  function card(layer, feature) {
    return Words.make(
      "div",
      { class: "card" },
      Words.make("h4", null, Words.name(feature.name)),
      Words.make("p", { class: "small" }, `${layer.title}. ${layer.meaning}`),
      facts(layer, feature)
    );
  }

  function choose(layer, feature) {
    // Every connector at once hides the one that was asked for: its outline is enough.
    if (!layer.shown && layer.name !== "clearances") Switches.turn(layer, true);
    Plat.outline([[feature.shape, layer.kind]]);
    Words.fill("here-body", card(layer, feature));
  }

  function groundCard(point) {
    const why = Ground.why(point);
    return Words.make(
      "div",
      { class: `card ground ${why.word.replace(" ", "-")}` },
      Words.make("p", null, Words.make("strong", null, why.head)),
      why.rows.length
        ? Words.make("ul", null, ...why.rows.map((row) => Words.make("li", null, Words.name(row))))
        : null,
      Words.make("p", null, Ground.levelWords(point)),
      Words.make("p", null, Cursor.words(point))
    );
  }

  function tap(point, coarse) {
    const found = within(point, Plat.metresFor(coarse ? REACH.touch : REACH.fine));
    Plat.clear();
    Plat.pin(point, "tapped");
    const others = found.slice(1).map((one) =>
      Words.make("li", null, Words.button(Words.name(one.feature.name), () => choose(one.layer, one.feature)))
    );
    if (found.length) Plat.outline([[found[0].feature.shape, found[0].layer.kind]]);
    Words.fill(
      "here-body",
      found.length ? card(found[0].layer, found[0].feature) : null,
      others.length ? Words.make("p", null, "Also here:") : null,
      others.length ? Words.make("ul", { class: "also" }, ...others) : null,
      groundCard(point)
    );
  }

  function clear() {
    Plat.clear();
    Plat.pin(null);
    say("Nothing is chosen.");
  }

  return { settle, tap, choose, clear };
})();

// Where the pointer is, or the cross of the keyboard.
const Cursor = (() => {
  let grid = null;

  function settle(told) {
    grid = told;
    Words.fill("grid", ...told.told.map((row) => Words.make("p", null, Words.name(row))));
  }

  function words([east, north]) {
    const number = (metres) => (metres / grid.unit_m).toFixed(2);
    return `East ${number(grid.east + east)}, north ${number(grid.north + north)} ${grid.sign}`;
  }

  const show = (point) => Words.fill("cursor", words(point));

  return { settle, words, show };
})();
