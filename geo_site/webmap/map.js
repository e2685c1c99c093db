"use strict";
// The map: a plain grid in metres, one pane for each layer so that their order never changes.
const Plat = (() => {
  const LOWEST_PANE = 300;
  const NEAREST = 5;
  const heard = { tap: [], move: [], turn: [] };
  let map = null;
  let marked = null;
  let spot = null;

  const box = ([west, south, east, north]) => [[south, west], [north, east]];
  const at = ([east, north]) => L.latLng(north, east);
  const point = (latlng) => [latlng.lng, latlng.lat];

  function open(plan) {
    map = L.map("map", {
      crs: L.CRS.Simple,
      attributionControl: false,
      zoomControl: false,
      zoomSnap: 0.25,
      minZoom: -2,
      maxZoom: 8,
      scrollWheelZoom: false,
      tapTolerance: 20,
    });
    map.createPane("relief").style.zIndex = String(LOWEST_PANE - 50);
    if (plan.relief) {
      L.imageOverlay(plan.relief.picture, box(plan.relief.bounds), { pane: "relief", alt: "" }).addTo(map);
    }
    lookAt(plan.lot);
    map.on("click", (event) => tell("tap", point(event.latlng), event));
    map.on("mousemove", (event) => tell("move", point(event.latlng), event));
    map.on("move", () => tell("turn", point(map.getCenter())));
    listenToKeys(map.getContainer());
    // The wheel belongs to the page until the map has been chosen: else no one gets past the map.
    map.on("focus", () => map.scrollWheelZoom.enable());
    map.on("blur", () => map.scrollWheelZoom.disable());
    return map;
  }

  function listenToKeys(node) {
    node.addEventListener("keydown", (event) => {
      if (event.key === "Enter" && event.target === node) {
        event.preventDefault();
        tell("tap", point(map.getCenter()), event);
      }
    });
  }

  const on = (what, act) => heard[what].push(act);
  const tell = (what, ...told) => heard[what].forEach((act) => act(...told));

  function lookAt(bounds, padding, maxZoom) {
    const room = [padding || 16, padding || 16];
    map.fitBounds(box(bounds), { padding: room, maxZoom: maxZoom || map.getMaxZoom(), animate: false });
  }

  // Near enough to see it, far enough to see where it is.
  const lookAtFeature = (shape, kind) => lookAt(Shapes.bounds(shape, kind), 70, NEAREST);

  function pen(symbol, kind) {
    return {
      color: symbol.stroke,
      weight: symbol.width,
      stroke: symbol.width > 0,
      dashArray: symbol.dash.length ? symbol.dash.join(",") : null,
      lineCap: "butt",
      lineJoin: "round",
      fill: kind === "area" && Boolean(symbol.fill),
      fillColor: symbol.fill || symbol.stroke,
      fillOpacity: symbol.opacity,
      interactive: false,
    };
  }

  // A casing lies under its line, a hatch over its fill.
  function painted(symbol, kind) {
    const pens = [pen(symbol, kind)];
    const hatch = kind === "area" && Hatch.paint(symbol);
    if (symbol.casing) pens.unshift(pen(symbol.casing, "line"));
    if (hatch) pens.push({ stroke: false, fill: true, fillColor: hatch, fillOpacity: 1, interactive: false });
    return pens;
  }

  function path(shape, kind, look) {
    if (kind === "line") return L.polyline(shape.map(Shapes.northFirst), look);
    return L.polygon(shape.map((rings) => rings.map(Shapes.northFirst)), look);
  }

  function sign(symbol) {
    const side = symbol.size + 2 * symbol.width + 2;
    const far = symbol.size / 2;
    const paint = {
      fill: symbol.fill || "none",
      stroke: symbol.stroke,
      "stroke-width": Math.max(symbol.width, 1),
    };
    const forms = {
      circle: () => Words.draw("circle", { r: far, ...paint }),
      square: () => Words.draw("rect", { x: -far, y: -far, width: 2 * far, height: 2 * far, ...paint }),
      triangle: () => Words.draw("path", { d: `M0 ${-far}L${far} ${far}L${-far} ${far}Z`, ...paint }),
      cross: () => Words.draw("path", { d: `M${-far} ${-far}L${far} ${far}M${-far} ${far}L${far} ${-far}`, ...paint }),
    };
    return Words.draw(
      "svg",
      { width: side, height: side, viewBox: `${-side / 2} ${-side / 2} ${side} ${side}`, "aria-hidden": "true" },
      (forms[symbol.marker] || forms.circle)()
    );
  }

  function stake(flat, symbol, pane) {
    const side = symbol.size + 2 * symbol.width + 2;
    const icon = L.divIcon({ html: sign(symbol), className: "stake", iconSize: [side, side] });
    return L.marker(at(flat), { icon, pane, interactive: false, keyboard: false });
  }

  function build(layer) {
    const pane = `layer-${layer.name}`;
    const node = map.getPane(pane) || map.createPane(pane);
    node.style.zIndex = String(LOWEST_PANE + 10 + layer.order);
    const group = L.layerGroup();
    for (const feature of layer.features) {
      const look = layer.classes[feature.class];
      if (!feature.shape.length || !look.shown) continue;
      if (layer.kind === "point") {
        group.addLayer(stake(feature.shape, look.symbol, pane));
        continue;
      }
      for (const drawn of painted(look.symbol, layer.kind)) {
        group.addLayer(path(feature.shape, layer.kind, { ...drawn, pane }));
      }
    }
    return group;
  }

  function show(layer, shown) {
    layer.shown = shown;
    if (shown && !layer.drawn) layer.drawn = build(layer);
    if (!layer.drawn) return;
    if (shown) layer.drawn.addTo(map);
    else layer.drawn.remove();
  }

  // A class that was switched: the layer is drawn anew.
  function redraw(layer) {
    if (layer.drawn) layer.drawn.remove();
    layer.drawn = null;
    show(layer, layer.shown);
  }

  // Metres of the ground for a metre of the screen, by the pixels of CSS.
  const denominator = () => (metresFor(1) * 96) / 0.0254;

  // The colours of what is chosen are the page's own: the style sheet has them.
  function outline(shapes) {
    clear();
    marked = L.layerGroup();
    for (const [shape, kind] of shapes) {
      if (!shape.length) continue;
      for (const className of ["chosen-under", "chosen"]) {
        const look = { className, fill: false, interactive: false, pane: "markerPane", lineCap: "butt" };
        if (kind === "point") marked.addLayer(L.circleMarker(at(shape), { ...look, radius: 12 }));
        else marked.addLayer(path(shape, kind, look));
      }
    }
    marked.addTo(map);
  }

  function clear() {
    if (marked) marked.remove();
    marked = null;
  }

  // One place on the map: of the section, or of a tap.
  function pin(where, className) {
    if (spot) spot.remove();
    spot = null;
    if (!where) return;
    const look = { radius: 9, className, interactive: false, pane: "markerPane", fill: false };
    spot = L.circleMarker(at(where), look).addTo(map);
  }

  const metresFor = (pixels) => pixels / map.getZoomScale(map.getZoom(), 0);
  const centre = () => point(map.getCenter());
  const leaflet = () => map;

  return { open, on, lookAt, lookAtFeature, show, redraw, denominator, sign, outline, clear, pin, metresFor, centre, leaflet, at, path };
})();
