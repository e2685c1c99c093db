"use strict";
// Clearances, figures, warnings, the visit, cautions: words of the plan in rows.
const Tables = (() => {
  const COLUMNS = ["row", "verdict", "work", "against", "found", "asked", "why"];
  const shown = new Set();

  function settle(plan, connectors) {
    edits(plan);
    clearances(plan, connectors);
    Words.fill("figures", figures(plan.figures));
    Words.fill("warnings", list(plan.warnings, "No step gave a warning."));
    Words.fill("visit", visit(plan.visit));
    Words.fill("cautions", ...plan.cautions.flatMap(caution));
    Words.fill("rules", rules(plan.rules));
    if (plan.compared.length) {
      const head = Words.make("h3", null, "Whole plans side by side");
      const which = Words.make("p", null, "This page shows plan 1; plan.gpkg holds all of them.");
      Words.fill("compared", head, list(plan.compared, ""), which);
    }
    if (plan.openings.length) {
      const head = Words.make("h3", null, "What would open a place, and what is not to be weakened");
      Words.fill("openings", head, list(plan.openings, ""));
    }
  }

  function clearances(plan, connectors) {
    if (!plan.clearances.length) {
      const why = plan.status === "no_place" ? "No place was found, so no work is judged." : "Nothing asks for a distance.";
      Words.fill("clearances", Words.make("p", null, why));
      return;
    }
    const graver = plan.verdicts.filter((one) => one.name !== "met" && one.count);
    // What is met is the long rest: it is one press away, and always on paper.
    const first = graver.length ? graver : plan.verdicts;
    first.forEach((one) => shown.add(one.name));
    const looks = new Map(plan.verdicts.map((one) => [one.name, one]));
    const body = Words.make("tbody", null, ...plan.clearances.map((row) => clearance(row, looks, connectors)));
    Words.fill("verdicts", ...plan.verdicts.filter((one) => one.count).map((one) => filter(one, body)));
    Words.fill(
      "clearances",
      Words.make(
        "table",
        { class: "stack" },
        Words.make("thead", null, Words.make("tr", null, ...COLUMNS.map((one) => Words.make("th", { scope: "col" }, one)))),
        body
      )
    );
  }

  function filter(one, body) {
    const button = Words.button(
      Words.make("span", null, Switches.swatch({ symbol: one.symbol }, "line"), `${one.count} ${one.title}`),
      () => {
        const turned = !shown.has(one.name);
        if (turned) shown.add(one.name);
        else shown.delete(one.name);
        button.setAttribute("aria-pressed", String(turned));
        for (const row of body.rows) row.hidden = !shown.has(row.dataset.verdict);
      },
      { "aria-pressed": String(shown.has(one.name)) }
    );
    return button;
  }

  function clearance(row, looks, connectors) {
    const look = looks.get(row.verdict);
    const act = () => see(row, connectors);
    const cells = [
      Words.button(String(row.number), act, { "aria-label": `Row ${row.number}: see it on the map` }),
      Words.make("span", { class: "verdict" }, Switches.swatch({ symbol: look.symbol }, "line"), look.title),
      row.work,
      Words.make("span", null, Words.name(row.against), ` (${row.kind})`),
      row.found,
      row.asked,
      Words.name(row.reason),
    ];
    const made = Words.make(
      "tr",
      { "data-verdict": row.verdict, class: row.verdict },
      ...cells.map((cell, i) => Words.make("td", { "data-label": COLUMNS[i] }, cell))
    );
    made.hidden = !shown.has(row.verdict);
    made.addEventListener("click", (event) => {
      if (!event.target.closest("button")) act();
    });
    return made;
  }

  function see(row, connectors) {
    const feature = connectors.features[row.feature];
    if (feature.shape.length) Plat.lookAtFeature(feature.shape, "line");
    Here.choose(connectors, feature);
    Words.find("map-part").scrollIntoView({ block: "start" });
    Words.find("here-head").focus({ preventScroll: true });
  }

  function edits(plan) {
    Words.find("alerts").hidden = !plan.alerts.length;
    Words.fill("alerts", ...plan.alerts.map((told) => Words.make("li", null, told)));
    const edited = plan.breaches.length + plan.changes.length > 0;
    for (const id of ["edit-part", "edit-link"]) Words.find(id).hidden = !edited;
    if (plan.breaches.length) {
      Words.fill(
        "breaches",
        Words.make("p", null, "The works stay as they were drawn. They break these rules:"),
        table(["work", "against", "what is wrong"], plan.breaches)
      );
    }
    if (plan.changes.length) {
      Words.fill(
        "changes",
        Words.make("p", null, "Figures that the drawing changed:"),
        table(["figure", "before", "as drawn"], plan.changes)
      );
    }
  }

  function figures(rows) {
    return Words.make(
      "table",
      { class: "figures" },
      Words.make(
        "tbody",
        null,
        ...rows.map((row) =>
          Words.make(
            "tr",
            null,
            Words.make("th", { scope: "row" }, row.label),
            Words.make("td", null, Words.make("strong", null, row.value), Words.make("span", { class: "small" }, row.how))
          )
        )
      )
    );
  }

  function list(rows, none) {
    if (!rows.length) return Words.make("p", null, none);
    return Words.make("ol", null, ...rows.map((row) => Words.make("li", null, Words.name(row))));
  }

  function visit(rows) {
    if (!rows.length) return Words.make("p", null, "Nothing was found that must be checked; marks are looked at all the same.");
    return Words.make(
      "ul",
      { class: "ticks" },
      ...rows.map(([subject, check, why]) =>
        Words.make(
          "li",
          null,
          Words.make("strong", null, Words.name(subject)),
          ": ",
          Words.name(check),
          Words.make("span", { class: "small" }, Words.name(why))
        )
      )
    );
  }

  const caution = ([subject, told]) => [Words.make("dt", null, subject), Words.make("dd", null, told)];

  const rules = (rows) =>
    table(["rule", "ground that it takes", "of that, by it alone"], rows.map((row) => [row.rule, row.ground, row.alone]));

  function table(head, rows) {
    return Words.make(
      "table",
      { class: "stack plain" },
      Words.make("thead", null, Words.make("tr", null, ...head.map((one) => Words.make("th", { scope: "col" }, one)))),
      Words.make(
        "tbody",
        null,
        ...rows.map((row) =>
          Words.make(
            "tr",
            null,
            ...row.map((cell, i) =>
              Words.make("td", { "data-label": head[i] }, Words.name(cell))
            )
          )
        )
      )
    );
  }

  return { settle };
})();
