"use strict";
// Places compared: a criterion a row, a place a column, bars as long as the mark.
const Places = (() => {
  let places = [];
  let chosen = null;

  function settle(all) {
    places = all;
    if (!all.length) return;
    const marks = [...new Set(all.flatMap((place) => place.marks.map((mark) => mark.criterion)))];
    const facts = all[0].facts.map((fact) => fact[0]);
    Words.fill(
      "places",
      Words.make(
        "table",
        { class: "places" },
        Words.make("thead", null, head()),
        Words.make(
          "tbody",
          null,
          row("score", (place) => bar(Number(place.score))),
          ...marks.map((name) => row(name, (place) => markOf(place, name))),
          ...facts.map((name, i) => row(name, (place) => place.facts[i][1]))
        )
      )
    );
  }

  function head() {
    const cells = places.map((place) =>
      Words.make(
        "th",
        { scope: "col" },
        Words.button(`Place ${place.rank}`, () => choose(place), {
          id: `place-${place.rank}`,
          "aria-pressed": "false",
        })
      )
    );
    return Words.make("tr", null, Words.make("th", { scope: "col" }, "mark"), ...cells);
  }

  function row(name, cell) {
    return Words.make(
      "tr",
      null,
      Words.make("th", { scope: "row" }, name),
      ...places.map((place) => Words.make("td", null, cell(place)))
    );
  }

  function markOf(place, name) {
    const mark = place.marks.find((one) => one.criterion === name);
    return mark ? bar(mark.score) : "not known";
  }

  function bar(score) {
    const drawing = Words.draw(
      "svg",
      { width: 52, height: 12, "aria-hidden": "true", class: "bar" },
      Words.draw("rect", { width: 52, height: 12, class: "bar-room" }),
      Words.draw("rect", { width: (52 * score).toFixed(1), height: 12, class: "bar-mark" })
    );
    return Words.make("span", { class: "bar-cell" }, drawing, ` ${score.toFixed(2)}`);
  }

  function choose(place) {
    for (const one of places) {
      Words.find(`place-${one.rank}`).setAttribute("aria-pressed", String(one === place));
    }
    chosen = place;
    Plat.lookAt(place.bounds, 40);
    Plat.outline([[place.pit, "area"], [place.stream, "line"]]);
    Words.fill(
      "place-told",
      Words.make("h3", null, `Place ${place.rank}`),
      Words.make("ul", null, ...place.marks.map((mark) => Words.make("li", null, Words.name(mark.told)))),
      Words.button("See it on the map", () => {
        Words.find("map-part").scrollIntoView({ block: "start" });
        Words.find("map").focus({ preventScroll: true });
      })
    );
  }

  function clear() {
    if (!chosen) return;
    Words.find(`place-${chosen.rank}`).setAttribute("aria-pressed", "false");
    Words.fill("place-told");
    chosen = null;
  }

  return { settle, clear };
})();
