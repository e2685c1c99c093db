"use strict";
// The stream along its line. One place is marked on it, and the same place on the map.
const Section = (() => {
  const LEFT = 78;
  const RIGHT = 16;
  const TOP = 34;
  const BOTTOM = 46;
  const HEIGHT = 300;
  const TALLER = [1, 1.5, 2, 2.5, 3, 4, 5, 10];
  const STEPS = 100;
  let plan = null;
  let across = null;
  let up = null;
  let station = 0;
  let listener = () => {};

  function settle(section, listen) {
    plan = section;
    listener = listen;
    const place = Words.find("section");
    Words.set(place, { "aria-valuemin": 0, "aria-valuemax": plan.station[plan.station.length - 1].toFixed(2) });
    place.addEventListener("pointermove", fromPointer);
    place.addEventListener("pointerdown", fromPointer);
    place.addEventListener("keydown", fromKey);
    new ResizeObserver(redraw).observe(place);
    redraw();
    go(0, false);
  }

  const last = () => plan.station[plan.station.length - 1];

  function fromPointer(event) {
    const left = Words.find("section").getBoundingClientRect().left;
    go((event.clientX - left - LEFT) / across, true);
  }

  function fromKey(event) {
    const falls = plan.falls.map((fall) => fall.station);
    const step = last() / STEPS;
    const goals = {
      ArrowRight: () => station + step,
      ArrowUp: () => station + step,
      ArrowLeft: () => station - step,
      ArrowDown: () => station - step,
      Home: () => 0,
      End: () => last(),
      PageDown: () => falls.find((one) => one > station + 0.001) || last(),
      PageUp: () => falls.filter((one) => one < station - 0.001).pop() || 0,
    };
    if (!goals[event.key]) return;
    event.preventDefault();
    go(goals[event.key](), true);
  }

  function value(name, where) {
    const all = plan.station;
    let i = all.findIndex((one) => one >= where);
    if (i < 0) i = all.length - 1;
    if (i === 0 || all[i] === where) return plan[name][i];
    const [before, after] = [plan[name][i - 1], plan[name][i]];
    if (before === null || after === null) return null;
    return before + ((where - all[i - 1]) / (all[i] - all[i - 1])) * (after - before);
  }

  function place(where) {
    const all = plan.station;
    const i = Math.max(1, all.findIndex((one) => one >= where));
    const share = all[i] > all[i - 1] ? (where - all[i - 1]) / (all[i] - all[i - 1]) : 0;
    return [0, 1].map(
      (axis) => plan.place[2 * i - 2 + axis] + share * (plan.place[2 * i + axis] - plan.place[2 * i - 2 + axis])
    );
  }

  function told() {
    const reach = plan.reaches.find((one) => station >= one.from && station <= one.to);
    return (
      `${Words.length(station)} from the lip${reach ? `, ${reach.told}` : ""}: ` +
      `ground ${Words.level(value("ground", station))}, bed ${Words.level(value("bed", station))}, ` +
      `running water ${Words.level(value("water", station))}, ` +
      `${Words.length(value("depth", station))} deep, ${Words.speed(value("speed", station))}.`
    );
  }

  // From here or from the map; only what a person moved here goes on to the map.
  function go(where, pass) {
    station = Math.min(last(), Math.max(0, where));
    const words = told();
    Words.fill("section-reading", words);
    Words.set(Words.find("section"), { "aria-valuenow": station.toFixed(2), "aria-valuetext": words });
    move();
    if (pass) listener(place(station));
  }

  // The map asks: is this place near the stream, and where along it?
  function near(point, reach) {
    const found = Shapes.nearest(point, plan.place);
    if (found.away > reach) return false;
    const [before, after] = plan.station.slice(found.leg, found.leg + 2);
    go(before + found.share * (after - before), false);
    return true;
  }

  const x = (metres) => LEFT + metres * across;

  function scale(width) {
    const levels = [...plan.ground, ...plan.bed, ...plan.water].filter((one) => one !== null);
    const low = Math.min(...levels);
    const high = Math.max(...levels);
    const room = HEIGHT - TOP - BOTTOM;
    across = Math.max(1, width - LEFT - RIGHT) / last();
    const fits = TALLER.filter((one) => (high - low) * across * one <= room);
    const taller = fits.length ? fits[fits.length - 1] : 1;
    const tall = fits.length ? across * taller : room / (high - low);
    const foot = HEIGHT - BOTTOM - (room - (high - low) * tall) / 2;
    up = (metres) => foot - (metres - low) * tall;
    return { low, high, tall, times: tall / across };
  }

  function redraw() {
    const node = Words.find("section");
    const width = node.clientWidth;
    if (!width) return;
    const size = scale(width);
    const drawing = Words.draw(
      "svg",
      { width, height: HEIGHT, viewBox: `0 0 ${width} ${HEIGHT}`, "aria-hidden": "true" },
      ...axes(width, size),
      band("water", "bed", "section-water"),
      line("ground", "section-ground"),
      line("sill", "section-sill"),
      line("bed", "section-bed"),
      line("water", "section-surface"),
      ...falls(width),
      Words.draw("path", { id: "section-here", class: "section-here" })
    );
    Words.fill(node, drawing);
    Words.fill(
      "section-key",
      `${taller(size.times)} Brown: ground as flown. Black: sills; ` +
        `dashed: bed with the pools' hollows. Blue: water while the pump runs. Levels refer to ${plan.datum}.`
    );
    move();
  }

  function taller(times) {
    if (Math.abs(times - 1) < 0.005) return "Heights and lengths have one scale.";
    return `Heights are drawn ${Number(times.toFixed(2))} times as large as lengths.`;
  }

  function path(points) {
    return points.map(([px, py], i) => `${i ? "L" : "M"}${px.toFixed(1)} ${py.toFixed(1)}`).join("");
  }

  function line(name, className) {
    const known = plan.station.map((one, i) => [x(one), plan[name][i]]).filter((one) => one[1] !== null);
    return Words.draw("path", { d: path(known.map(([px, level]) => [px, up(level)])), class: className });
  }

  function band(upper, lower, className) {
    const top = plan.station.map((one, i) => [x(one), up(plan[upper][i])]);
    const foot = plan.station.map((one, i) => [x(one), up(plan[lower][i])]).reverse();
    return Words.draw("path", { d: `${path([...top, ...foot])}Z`, class: className });
  }

  // A step of 1, 2 or 5 times a power of ten, at least so many pixels wide.
  function step(metresFor, pixels) {
    const least = (pixels * metresFor) / plan.unit_m;
    const power = 10 ** Math.floor(Math.log10(least));
    return [1, 2, 5, 10].find((nice) => nice * power >= least) * power;
  }

  function ticks(from, to, by) {
    const found = [];
    for (let n = Math.ceil(from / by - 1e-9); n * by <= to + 1e-9; n += 1) found.push(n * by);
    return found;
  }

  const number = (value, by) => value.toFixed(Math.max(0, -Math.floor(Math.log10(by) + 1e-9)));

  function axes(width, size) {
    const unit = plan.unit_m;
    const byX = step(1 / across, 64);
    const byY = step(1 / size.tall, 34);
    const foot = HEIGHT - BOTTOM + 6;
    const word = (marks, words) => Words.draw("text", { class: "section-word", ...marks }, words);
    return [
      ...ticks(0, last() / unit, byX).flatMap((one) => [
        Words.draw("path", { class: "section-grid", d: `M${x(one * unit)} ${TOP}V${foot}` }),
        word({ x: x(one * unit), y: foot + 16, "text-anchor": "middle" }, number(one, byX)),
      ]),
      ...ticks(size.low / unit, size.high / unit, byY).flatMap((one) => [
        Words.draw("path", { class: "section-grid", d: `M${LEFT} ${up(one * unit)}H${width - RIGHT}` }),
        word({ x: LEFT - 6, y: up(one * unit) + 5, "text-anchor": "end" }, number(one, byY)),
      ]),
      word({ x: width - RIGHT, y: foot + 34, "text-anchor": "end" }, `from the lip, ${plan.unit}`),
      word({ x: 4, y: 18, "text-anchor": "start" }, `level, ${plan.unit}`),
    ];
  }

  // A word where there is room: a fall's height beside it, above the water.
  function falls(width) {
    let free = LEFT;
    return plan.falls.flatMap((fall) => {
      const at = x(fall.station);
      const mark = Words.draw("path", { class: "section-fall", d: `M${at} ${up(fall.lip)}V${up(fall.foot)}` });
      const wide = 8.2 * fall.told.length;
      const left = Math.min(at + 6, width - RIGHT - wide);
      if (left < free) return [mark];
      free = left + wide;
      const marks = { class: "section-word", x: left, y: Math.max(TOP + 12, up(fall.lip) - 12) };
      return [mark, Words.draw("text", marks, fall.told)];
    });
  }

  function move() {
    const here = Words.find("section-here");
    if (!here || !up) return;
    const level = value("water", station);
    const round = `M${x(station) - 5} ${up(level)}a5 5 0 1 0 10 0a5 5 0 1 0 -10 0`;
    here.setAttribute("d", `M${x(station)} ${TOP}V${HEIGHT - BOTTOM}${round}`);
  }

  return { settle, near, go };
})();
