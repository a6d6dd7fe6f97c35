"use strict";
addEventListener("beforeprint", () => document.querySelectorAll("details").forEach((part) => { part.open = true; }));
for (const script of document.querySelectorAll('script[type="application/json"]')) {
  const values = JSON.parse(script.textContent);
  const along = values.distance_m || values.f_hz.map((f_hz) => f_hz / 1e6);
  const count = along.length;
  const leftOut = new Set(values.left_out);
  const figures = [...document.querySelectorAll(`figure[data-readout="${script.id}"]`)].map(prepare);
  const digits = count > 1 && (along[count - 1] - along[0]) / (count - 1) < 0.002 ? 4 : 3;
  let shown = -1;
  show(values.start);

  function prepare(figure) {
    const frame = JSON.parse(figure.dataset.frame);
    const svg = figure.querySelector("svg");
    const cursor = add(svg, "g", { class: "cursor", "aria-hidden": "true" });
    const isPlane = frame.shows.includes("gamma");
    const part = {
      frame, isPlane, svg,
      slider: figure.querySelector("input"),
      output: figure.querySelector("output"),
      line: isPlane ? null : add(cursor, "line", { stroke: "#111", "stroke-width": 1, y1: frame.top, y2: frame.bottom }),
      dots: frame.shows.map(() => add(cursor, "circle", { r: 4.5, fill: "#fff", stroke: "#111", "stroke-width": 2 })),
    };
    part.slider.hidden = false;
    part.slider.max = count - 1;
    part.slider.addEventListener("input", () => show(Number(part.slider.value)));
    svg.addEventListener("pointerdown", (event) => { svg.setPointerCapture(event.pointerId); follow(part, event); });
    svg.addEventListener("pointermove", (event) => follow(part, event));
    return part;
  }

  function add(parent, name, attributes) {
    const element = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const key of Object.keys(attributes)) element.setAttribute(key, attributes[key]);
    parent.appendChild(element);
    return element;
  }

  function follow(part, event) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(part.svg.getScreenCTM().inverse());
    const f = part.frame;
    const x = f.x[0] + (at.x - f.left) / (f.right - f.left) * (f.x[1] - f.x[0]);
    const y = f.y[0] + (f.bottom - at.y) / (f.bottom - f.top) * (f.y[1] - f.y[0]);
    const far = part.isPlane
      ? (k) => (values.gamma[0][k] - x) ** 2 + (values.gamma[1][k] - y) ** 2
      : (k) => Math.abs(along[k] - x);
    let nearest = 0;
    for (let k = 1; k < count; k += 1) if (far(k) < far(nearest)) nearest = k;
    show(nearest);
  }

  function show(k) {
    if (k === shown) return;
    shown = k;
    const parts = words(k);
    for (const part of figures) {
      part.slider.value = k;
      part.slider.setAttribute("aria-valuetext", parts.join(", "));
      part.output.replaceChildren(...parts.map((text, n) => {
        const element = document.createElement(n === 0 ? "b" : "span");
        element.textContent = n === 0 ? text + " " : text;
        return element;
      }));
      place(part, k);
    }
  }

  function place(part, k) {
    const f = part.frame;
    const across = (x) => f.left + (x - f.x[0]) / (f.x[1] - f.x[0]) * (f.right - f.left);
    const scale = f.log ? Math.log : (y) => y;
    const up = (y) => {
      const share = (scale(y) - scale(f.y[0])) / (scale(f.y[1]) - scale(f.y[0]));
      return f.bottom - Math.min(Math.max(share, 0), 1) * (f.bottom - f.top);
    };
    if (part.line) { part.line.setAttribute("x1", across(along[k])); part.line.setAttribute("x2", across(along[k])); }
    f.shows.forEach((name, n) => {
      const x = part.isPlane ? values.gamma[0][k] : along[k];
      const y = part.isPlane ? values.gamma[1][k] : values[name][0][k];
      part.dots[n].setAttribute("cx", across(x));
      part.dots[n].setAttribute("cy", up(y));
    });
  }

  function words(k) {
    if (values.distance_m) return [along[k].toFixed(2) + " m", minus(values.size_db[0][k].toFixed(1)) + " dB"];
    const parts = [along[k].toFixed(digits) + " MHz"];
    parts.push("SWR " + interval(values.swr, k, (v) => (v > 100 ? "above 100" : v.toFixed(2)), ""));
    if (values.r_ohm) {
      parts.push("R " + interval(values.r_ohm, k, ohm, " ohm"));
      parts.push("X " + interval(values.x_ohm, k, ohm, " ohm"));
    }
    if (leftOut.has(k)) parts.push("this point does not go with its neighbours and was left out");
    return parts;
  }

  function ohm(v) {
    if (Math.abs(v) > 1e6) return v < 0 ? "below \u22121000000" : "above 1000000";
    return minus(Math.abs(v) >= 1000 ? v.toFixed(0) : v.toFixed(1));
  }

  function minus(text) {
    return text.replace("-", "\u2212");
  }

  function interval(columns, k, form, unit) {
    const value = form(columns[0][k]) + unit;
    return columns.length < 3 ? value : value + " (" + form(columns[1][k]) + " to " + form(columns[2][k]) + ")";
  }
}
for (const figure of document.querySelectorAll("figure[data-moves]")) slide(figure);

// The curve of one place of the dip after another: all of them came with the page, nothing is computed but where they go.
function slide(figure) {
  const moves = JSON.parse(figure.dataset.moves);
  const f = JSON.parse(figure.dataset.frame);
  const slider = figure.querySelector("input");
  const output = figure.querySelector("output");
  const svg = figure.querySelector("svg");
  const space = "http://www.w3.org/2000/svg";
  const group = svg.appendChild(document.createElementNS(space, "g"));
  group.setAttribute("class", "cursor");
  group.setAttribute("aria-hidden", "true");
  const ribbon = group.appendChild(document.createElementNS(space, "path"));
  const line = group.appendChild(document.createElementNS(space, "path"));
  ribbon.setAttribute("fill", "#c2491d");
  ribbon.setAttribute("fill-opacity", "0.22");
  line.setAttribute("fill", "none");
  line.setAttribute("stroke", "#c2491d");
  line.setAttribute("stroke-width", "2.2");
  const across = (x) => (f.left + (x - f.x[0]) / (f.x[1] - f.x[0]) * (f.right - f.left)).toFixed(1);
  const up = (y) => {
    const share = Math.log(y / f.y[0]) / Math.log(f.y[1] / f.y[0]);
    return (f.bottom - Math.min(Math.max(share, 0), 1) * (f.bottom - f.top)).toFixed(1);
  };
  const places = (row, known) => known.map((k) => across(moves.mhz[k]) + " " + up(row[k]));
  const show = () => {
    const [value, low, high] = moves.swr[slider.value];
    const known = [...value.keys()].filter((k) => value[k] !== null);
    line.setAttribute("d", "M" + places(value, known).join("L"));
    ribbon.setAttribute("d", "M" + [...places(low, known), ...places(high, known).reverse()].join("L") + "Z");
    output.textContent = moves.words[slider.value];
    slider.setAttribute("aria-valuetext", moves.words[slider.value]);
  };
  slider.hidden = false;
  slider.max = moves.words.length - 1;
  slider.value = moves.now;
  slider.addEventListener("input", show);
  show();
}
