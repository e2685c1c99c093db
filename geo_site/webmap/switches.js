"use strict";
// What the map shows: groups of layers, each with its sign, a switch, and its features as a list.
const Switches = (() => {
  const boxes = new Map();

  function settle(groups) {
    Words.fill("groups", ...groups.map(group));
  }

  function group(one) {
    const rows = one.layers.filter((layer) => layer.features.length);
    if (!rows.length) return null;
    return Words.make(
      "fieldset",
      null,
      Words.make("legend", null, one.title),
      ...rows.map(row)
    );
  }

  function row(layer) {
    const box = Words.make("input", { type: "checkbox", id: `show-${layer.name}` });
    box.checked = layer.shown;
    box.addEventListener("change", () => turn(layer, box.checked));
    boxes.set(layer.name, box);
    return Words.make(
      "div",
      { class: "layer" },
      Words.make("label", { for: box.id }, box, key(layer), Words.make("span", null, layer.title)),
      list(layer)
    );
  }

  function turn(layer, shown) {
    boxes.get(layer.name).checked = shown;
    Plat.show(layer, shown);
    Labels.update();
  }

  // The list is made when it is opened: most are never looked at.
  function list(layer) {
    const count = layer.features.length;
    const inside = Words.make("ul", { class: "features" });
    const more = Words.make(
      "details",
      null,
      Words.make("summary", { "aria-label": `${count} of ${layer.title}` }, String(count)),
      legend(layer),
      inside
    );
    more.addEventListener("toggle", () => {
      if (!more.open || inside.childElementCount) return;
      layer.features.forEach((feature) => Words.put(inside, Words.make("li", null, entry(layer, feature))));
    });
    return more;
  }

  function entry(layer, feature) {
    return Words.button(Words.name(feature.name), () => {
      if (feature.shape.length) Plat.lookAtFeature(feature.shape, layer.kind);
      Here.choose(layer, feature);
      Words.find("map-part").scrollIntoView({ block: "start" });
      Words.find("here-head").focus({ preventScroll: true });
    });
  }

  function legend(layer) {
    if (layer.classes.length < 2) return null;
    return Words.make("ul", { class: "classes" }, ...layer.classes.map((one) => part(layer, one)));
  }

  function part(layer, one) {
    const box = Words.make("input", { type: "checkbox" });
    box.checked = one.shown;
    box.addEventListener("change", () => {
      one.shown = box.checked;
      Plat.redraw(layer);
      Labels.update();
    });
    return Words.make("li", null, Words.make("label", null, box, swatch(one, layer.kind), one.title));
  }

  const key = (layer) => swatch(layer.classes[0], layer.kind);

  function swatch(look, kind) {
    if (kind === "point") return Words.make("span", { class: "swatch" }, Plat.sign(look.symbol));
    const box = kind === "area" ? "M3 3H39V17H3Z" : "M1 10H41";
    const strokes = [look.symbol.casing, look.symbol].filter(Boolean).map((symbol) =>
      Words.draw("path", {
        d: box,
        fill: kind === "area" && symbol.fill ? symbol.fill : "none",
        "fill-opacity": symbol.opacity,
        stroke: symbol.width ? symbol.stroke : "none",
        "stroke-width": symbol.width,
        "stroke-dasharray": symbol.dash.length ? symbol.dash.join(",") : null,
      })
    );
    const hatch = kind === "area" && Hatch.paint(look.symbol);
    if (hatch) strokes.push(Words.draw("path", { d: box, fill: hatch }));
    const drawing = Words.draw("svg", { width: 42, height: 20, "aria-hidden": "true" }, ...strokes);
    return Words.make("span", { class: "swatch" }, drawing);
  }

  return { settle, turn, swatch };
})();
