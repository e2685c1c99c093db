"use strict";
// The page put to work: data in, parts joined.
(() => {
  const REACH_OF_STREAM = 24;
  const plan = JSON.parse(Words.find("plan").textContent);
  const layers = plan.groups.flatMap((group) => group.layers);
  const byName = new Map(layers.map((layer) => [layer.name, layer]));
  const finger = window.matchMedia("(pointer: coarse)");

  function begin() {
    Words.settle(plan.units);
    const day = plan.as_of ? `As of ${plan.as_of}.` : "The day is not stated.";
    Words.fill("told", `${plan.told} ${day}`, plan.revision ? Words.name(` Revision ${plan.revision}.`) : null);
    hideParts();
    theme();
    Words.find("switches").open = window.matchMedia("(min-width: 64rem)").matches;
    const map = Plat.open(plan);
    Ground.settle(plan, byName);
    Cursor.settle(plan.grid);
    Switches.settle(plan.groups);
    layers.forEach((layer) => Plat.show(layer, layer.shown));
    Labels.settle(layers);
    Here.settle(layers);
    Tape.settle();
    Places.settle(plan.places);
    Tables.settle(plan, byName.get("clearances"));
    if (plan.section) Section.settle(plan.section, (place) => Plat.pin(place, "on-stream"));
    tools(map);
    join(map);
    bar(map);
    paper(map);
  }

  function hideParts() {
    const without = plan.section ? ".needs-no-place" : ".needs-works";
    document.querySelectorAll(without).forEach((node) => {
      node.hidden = true;
    });
    if (plan.section && plan.rules.length) Words.find("rule-part").hidden = false;
  }

  function theme() {
    const dark = window.matchMedia("(prefers-color-scheme: dark)");
    const button = Words.find("theme");
    const root = document.documentElement;
    const isDark = () => (root.dataset.theme ? root.dataset.theme === "dark" : dark.matches);
    const word = () => Words.fill(button, isDark() ? "Light page" : "Dark page");
    button.addEventListener("click", () => {
      root.dataset.theme = isDark() ? "light" : "dark";
      word();
    });
    dark.addEventListener("change", word);
    word();
  }

  function tools(map) {
    Words.find("nearer").addEventListener("click", () => map.zoomIn(1));
    Words.find("farther").addEventListener("click", () => map.zoomOut(1));
    Words.find("whole-lot").addEventListener("click", () => Plat.lookAt(plan.lot));
    Words.find("the-works").addEventListener("click", () => Plat.lookAt(plan.works));
    Words.find("the-works").hidden = !plan.section;
    document.addEventListener("keydown", (event) => {
      if (event.key !== "Escape") return;
      if (Tape.isOut()) Tape.end();
      else {
        Here.clear();
        Places.clear();
      }
    });
  }

  // A tap measures while the tape is out; else it asks what is there, and where along the stream.
  function join() {
    Plat.on("tap", (point) => {
      if (Tape.isOut()) {
        Tape.add(point);
        return;
      }
      Here.tap(point, finger.matches);
      Cursor.show(point);
      follow(point);
    });
    Plat.on("move", (point) => {
      Cursor.show(point);
      follow(point);
    });
    Plat.on("turn", (point) => {
      Cursor.show(point);
      if (Words.find("map").matches(":focus-visible")) follow(point);
    });
    Cursor.show(Plat.centre());
  }

  function follow(point) {
    if (plan.section) Section.near(point, Plat.metresFor(REACH_OF_STREAM));
  }

  // A bar of 1, 2 or 5 times a power of ten of the unit that lengths are told in.
  function bar(map) {
    const [size, sign] = plan.units.level;
    const redraw = () => {
      const most = Plat.metresFor(130) / size;
      const power = 10 ** Math.floor(Math.log10(most));
      const long = [5, 2, 1].find((nice) => nice * power <= most) * power;
      const width = (long * size) / Plat.metresFor(1);
      const told = `${Number(long.toPrecision(3))} ${sign}`;
      Words.set(Words.find("bar"), { "aria-label": `Scale bar: ${told}` });
      const half = width / 2;
      Words.fill(
        "bar",
        Words.make("span", null, told),
        Words.draw(
          "svg",
          { width: width + 2, height: 10, "aria-hidden": "true" },
          Words.draw("rect", { x: 1, y: 1, width, height: 7, class: "bar-edge" }),
          Words.draw("rect", { x: 1, y: 1, width: half, height: 7, class: "bar-half" })
        )
      );
    };
    map.on("zoom zoomend resize", redraw);
    redraw();
  }

  // Paper has its own width: the map is fitted to it, and everything folded is opened.
  function paper(map) {
    const print = window.matchMedia("print");
    const fit = (onPaper) => {
      document.body.classList.toggle("on-paper", onPaper);
      map.invalidateSize({ animate: false });
      Plat.lookAt(plan.lot, 4);
    };
    print.addEventListener("change", () => fit(print.matches));
    window.addEventListener("beforeprint", () => fit(true));
    window.addEventListener("afterprint", () => fit(false));
  }

  begin();
})();
