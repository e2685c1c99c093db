"use strict";
// Words on the map where there is room, the most important first; none lies over another.
const Labels = (() => {
  const SHARES = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8];
  const HEIGHT = 18;
  const MOST = 120;
  let layers = [];
  let group = null;
  let ruler = null;

  function settle(all) {
    layers = all
      .filter((layer) => layer.features.some((feature) => feature.label))
      .sort((a, b) => b.priority - a.priority);
    ruler = document.createElement("canvas").getContext("2d");
    ruler.font = "14px system-ui, sans-serif";
    const map = Plat.leaflet();
    map.createPane("labels").style.zIndex = "640";
    map.on("moveend zoomend resize", update);
    update();
  }

  function spots(layer, feature) {
    if (layer.kind === "point") return [feature.shape];
    if (layer.kind === "area") return feature.shape.slice(0, 1).map((rings) => middle(rings[0]));
    return feature.shape.flatMap((flat) => SHARES.map((share) => along(flat, share)));
  }

  function middle(ring) {
    const all = Shapes.pairs(ring).slice(1);
    return [0, 1].map((axis) => all.reduce((sum, one) => sum + one[axis], 0) / all.length);
  }

  function along(flat, share) {
    const all = Shapes.pairs(flat);
    let left = share * all.slice(1).reduce((sum, one, i) => sum + Shapes.between(all[i], one), 0);
    for (let i = 0; i + 1 < all.length; i += 1) {
      const leg = Shapes.between(all[i], all[i + 1]);
      if (leg >= left && leg > 0) {
        return [0, 1].map((axis) => all[i][axis] + (left / leg) * (all[i + 1][axis] - all[i][axis]));
      }
      left -= leg;
    }
    return all[all.length - 1];
  }

  const apart = (a, b) => a[0] > b[2] || a[2] < b[0] || a[1] > b[3] || a[3] < b[1];

  function room(layer, feature, words, placed) {
    const map = Plat.leaflet();
    const view = map.getSize();
    const half = ruler.measureText(words).width / 2 + 4;
    const aside = layer.kind === "point" ? half + 8 : 0;
    for (const spot of spots(layer, feature)) {
      const { x, y } = map.latLngToContainerPoint(Plat.at(spot));
      const box = [x + aside - half, y - HEIGHT / 2, x + aside + half, y + HEIGHT / 2];
      const seen = box[0] > 0 && box[1] > 0 && box[2] < view.x && box[3] < view.y;
      if (seen && placed.every((other) => apart(box, other))) return { spot, box, half, aside };
    }
    return null;
  }

  function word(words, found) {
    const html = Words.make("span", null, Words.name(words));
    const icon = L.divIcon({
      html,
      className: "label",
      iconSize: [2 * found.half, HEIGHT],
      iconAnchor: [found.half - found.aside, HEIGHT / 2],
    });
    return L.marker(Plat.at(found.spot), { icon, pane: "labels", interactive: false, keyboard: false });
  }

  const short = (words) => (words.length > 28 ? `${words.slice(0, 26)} …` : words);

  function update() {
    if (group) group.remove();
    group = L.layerGroup();
    const scale = Plat.denominator();
    const placed = [];
    for (const layer of layers) {
      if (!layer.shown || scale > layer.labels_to) continue;
      for (const feature of layer.features) {
        const words = short(feature.label);
        if (!words || !layer.classes[feature.class].shown || !feature.shape.length || placed.length >= MOST) continue;
        const found = room(layer, feature, words, placed);
        if (!found) continue;
        placed.push(found.box);
        group.addLayer(word(words, found));
      }
    }
    group.addTo(Plat.leaflet());
  }

  return { settle, update };
})();
