"use strict";
// Words, numbers and elements. Data of strangers becomes text nodes here and nothing else.
const Words = (() => {
  let units = null;

  function settle(table) {
    units = table;
  }

  // Writes a number in the first unit whose limit it is under, as the plan's other papers do.
  function quantity(kind, value) {
    if (value === null || !Number.isFinite(value)) return "unknown";
    const [, size, sign, digits] = units[kind].find(
      ([below]) => below === null || Math.abs(value) < below
    );
    let told = (value / size).toFixed(digits);
    if (sign === "in") told = told.replace(/\.0$/, "");
    if (Number(told) === 0) told = told.replace("-", "");
    return `${told} ${sign}`;
  }

  const length = (metres) => quantity("length", metres);
  const speed = (value) => quantity("velocity", value);

  // Levels stay in one unit whatever their size: two levels are compared by eye.
  function level(metres) {
    if (metres === null || !Number.isFinite(metres)) return "unknown";
    const [size, sign] = units.level;
    return `${(metres / size).toFixed(2)} ${sign}`;
  }

  function put(parent, ...children) {
    for (const child of children) {
      if (child === null || child === undefined) continue;
      parent.append(child instanceof Node ? child : document.createTextNode(String(child)));
    }
    return parent;
  }

  function set(node, marks) {
    for (const [name, value] of Object.entries(marks || {})) {
      if (value !== null && value !== undefined) node.setAttribute(name, String(value));
    }
    return node;
  }

  function make(tag, marks, ...children) {
    return put(set(document.createElement(tag), marks), ...children);
  }

  function draw(tag, marks, ...children) {
    return put(set(document.createElementNS("http://www.w3.org/2000/svg", tag), marks), ...children);
  }

  // A name may be written from right to left: it must not turn what stands beside it.
  const name = (words) => make("bdi", null, words);

  function button(words, act, marks) {
    const one = make("button", { type: "button", ...marks }, words);
    one.addEventListener("click", act);
    return one;
  }

  const find = (id) => document.getElementById(id);

  function fill(id, ...children) {
    const place = typeof id === "string" ? find(id) : id;
    place.replaceChildren();
    return put(place, ...children);
  }

  return { settle, length, speed, level, make, draw, put, set, name, button, find, fill };
})();
