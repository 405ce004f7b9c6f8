// What if: four sliders over a table of the package. The table holds what the engine offers the
// impeller at each speed, at the ends of torque factor and pump torque, between which it is a
// straight line; this looks up where it first falls to what the converter takes.

function drawWhatIf(root, data) {
  const SVG = "http://www.w3.org/2000/svg";
  const WIDE = 560, HIGH = 330;
  const w = data.words;
  const part = (kind, attributes, parent, text) => {
    const made = document.createElement(kind);
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    if (text !== undefined) made.textContent = text;
    parent.appendChild(made);
    return made;
  };
  const draw = (kind, attributes, parent, text) => {
    const made = document.createElementNS(SVG, kind);
    for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
    if (text !== undefined) made.textContent = text;
    parent.appendChild(made);
    return made;
  };
  const set = (element, attributes) => {
    for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  };
  const say = (element, text) => {
    if (element.textContent !== text) element.textContent = text;
  };
  const fill = (text, places) => text.replace(/\{(\w+)\}/g, (_, name) => places[name]);
  const plain = (number, digits) => {
    const text = number.toFixed(digits);
    return Number(text) === 0 ? text.replace("-", "") : text.replace("-", "−");
  };

  // --- the table: SI inside, as it is given ------------------------------------------------------
  const t = data.table, many = t.speed.length;
  function airFactor(altitude) {
    const a = t.altitude;
    if (!a.length) return 1;
    let k = 0;
    while (k < a.length - 2 && a[k + 1] <= altitude) k += 1;
    const share = (Math.min(Math.max(altitude, a[0]), a[a.length - 1]) - a[k]) / (a[k + 1] - a[k]);
    return t.air[k] + (t.air[k + 1] - t.air[k]) * share;
  }
  function offered(torque, pump) {
    const across = (torque - t.torque[0]) / (t.torque[1] - t.torque[0]);
    const along = (pump - t.pump[0]) / (t.pump[1] - t.pump[0]);
    const [[a, b], [c, d]] = t.offered, found = new Float64Array(many);
    for (let j = 0; j < many; j += 1) {
      found[j] = (1 - across) * ((1 - along) * a[j] + along * b[j]) + across * ((1 - along) * c[j] + along * d[j]);
    }
    return found;
  }
  function states(s) {
    const row = offered(s.torque * airFactor(s.altitude), s.pump);
    return t.capacity.map((base, k) => {
      const asked = s.capacity * base;
      if (row[0] <= asked) return null;
      for (let j = 1; j < many; j += 1) {
        if (row[j] <= asked) {
          const share = (row[j - 1] - asked) / (row[j - 1] - row[j]);
          const speed = t.speed[j - 1] + share * (t.speed[j] - t.speed[j - 1]);
          const input = asked * speed * speed, turbine = t.nu[k] * speed, output = t.mu[k] * input;
          return { nu: t.nu[k], speed, input, turbine, output, into: input * speed, out: output * turbine, heat: input * speed - output * turbine };
        }
      }
      return null;
    });
  }
  const middle = { torque: 1, capacity: 1, altitude: t.now, pump: 0 };
  const now = { ...middle };
  const figures = (found) => {
    const at = (k) => (k === null ? null : found[k]);
    const stall = at(0), coupling = at(t.coupling);
    const best = Math.max(...found.map((one) => (one ? one.out : 0)));
    return {
      "stall-speed": stall && stall.speed, "stall-torque": stall && stall.output, "stall-heat": stall && stall.heat,
      "coupling-speed": coupling && coupling.speed, "coupling-turbine": coupling && coupling.turbine,
      "coupling-torque": coupling && coupling.output, "most-power": found.some(Boolean) ? best : null,
    };
  };

  // --- controls ----------------------------------------------------------------------------------
  root.textContent = "";
  const bar = part("div", { class: "whats" }, root);
  const controls = data.sliders.map((one) => {
    const box = part("div", { class: "what" }, bar);
    const id = `what-${one.key}`;
    part("label", { for: id }, box, one.words);
    const out = part("output", { for: id }, box);
    const range = part("input", { type: "range", id, min: one.low, max: one.high, step: one.step }, box);
    range.addEventListener("input", () => { now[one.key] = Number(range.value) / one.scale; show(true); });
    return { one, out, range };
  });
  const back = part("button", { type: "button" }, bar, w.back);
  back.addEventListener("click", () => { Object.assign(now, middle); show(true); });
  const alert = part("p", { class: "alert", hidden: "" }, root);
  const live = part("p", { class: "only-read", role: "status", "aria-live": "polite" }, root);
  const panels = part("div", { class: "panels two" }, part("div", { class: "hold" }, root));
  const panel = (key) => {
    const figure = part("figure", { "data-panel": key }, panels);
    part("figcaption", {}, figure, w[`panel-${key}`]);
    return draw("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img" }, figure);
  };
  function ticks(most, count) {
    const raw = most / count, power = 10 ** Math.floor(Math.log10(raw));
    const step = [1, 2, 5, 10].map((f) => f * power).find((f) => f >= raw);
    const found = [];
    for (let value = 0; value <= most * 1.0001; value += step) found.push(value);
    return found;
  }
  function axes(svg, fast, strong, xWords, yWords) {
    const left = 62, right = WIDE - 14, top = 28, foot = HIGH - 48;
    const x = (value) => left + ((right - left) * value) / fast, y = (value) => foot - ((foot - top) * value) / strong;
    for (const value of ticks(fast, 5)) {
      draw("line", { x1: x(value), x2: x(value), y1: top, y2: foot, class: "soft" }, svg);
      draw("text", { x: x(value), y: foot + 17, "text-anchor": "middle", class: "small" }, svg, plain(value, 0));
    }
    for (const value of ticks(strong, 4)) {
      draw("line", { x1: left, x2: right, y1: y(value), y2: y(value), class: "soft" }, svg);
      draw("text", { x: left - 6, y: y(value) + 5, "text-anchor": "end", class: "small" }, svg, plain(value, 0));
    }
    draw("text", { x: right, y: HIGH - 8, "text-anchor": "end" }, svg, xWords);
    draw("text", { x: 4, y: 16 }, svg, yWords);
    return (pairs) => pairs.filter(([a, b]) => b <= strong && b >= 0 && a <= fast).map(([a, b]) => `${x(a).toFixed(1)},${y(b).toFixed(1)}`).join(" ");
  }
  const u = data.units;
  const rpm = (value) => value * u.speed[1], nm = (value) => value * u.torque[1];
  const fast = rpm(t.speed[many - 1]), base = states(middle);
  const torqueCurve = (s) => {
    const row = offered(s.torque * airFactor(s.altitude), s.pump);
    return Array.from(row, (value, j) => [rpm(t.speed[j]), nm(value * t.speed[j] ** 2)]);
  };
  const strong = 1.25 * Math.max(...torqueCurve(middle).map((pair) => pair[1]));
  const first = panel("what-engine"), second = panel("what-output");
  const onFirst = axes(first, fast, strong, `${w["engine-speed"]} (${u.speed[0]})`, `${w.torque} (${u.torque[0]})`);
  const pull = 1.35 * Math.max(...base.map((one) => (one ? nm(one.output) : 0)), 1);
  const onSecond = axes(second, fast, pull, `${w["turbine-speed"]} (${u.speed[0]})`, `${w["turbine-torque"]} (${u.torque[0]})`);
  const line = (svg, style, width, dash) => draw("polyline", { class: style, "stroke-width": width, "stroke-dasharray": dash }, svg);
  const taken = (s, k) => Array.from({ length: 61 }, (_, j) => {
    const speed = (t.speed[many - 1] * j) / 60;
    return [rpm(speed), nm(s.capacity * t.capacity[k] * speed * speed)];
  });
  const output = (found) => found.filter(Boolean).map((one) => [rpm(one.turbine), nm(one.output)]);
  const ghosts = [line(first, "slate", 1.6, "5 4"), line(first, "slate", 1.2, "2 4"), line(second, "slate", 1.8, "5 4")];
  set(ghosts[0], { points: onFirst(torqueCurve(middle)) });
  set(ghosts[1], { points: onFirst(taken(middle, 0)) });
  set(ghosts[2], { points: onSecond(output(base)) });
  const lines = [line(first, "ink", 2.4, "none"), line(first, "petrol", 2, "2 3"), line(second, "brick", 2.8, "none")];
  const dot = draw("circle", { r: 7, style: "fill: var(--brick); stroke: var(--paper)", "stroke-width": 2 }, first);
  const keyOf = (svg) => {
    draw("line", { x1: WIDE - 190, x2: WIDE - 160, y1: 12, y2: 12, class: "slate", "stroke-width": 1.8, "stroke-dasharray": "5 4" }, svg);
    draw("text", { x: WIDE - 154, y: 17 }, svg, w["as-it-is"]);
  };
  keyOf(first); keyOf(second);

  const scroll = part("div", { class: "scroll", tabindex: "0", role: "region", "aria-label": w["what-table"] }, root);
  const table = part("table", {}, scroll);
  const head = part("tr", {}, part("thead", {}, table));
  ["", w["as-it-is"], w["what-if"], w.change].forEach((text) => (text ? part("th", { scope: "col" }, head, text) : part("td", {}, head)));
  const body = part("tbody", {}, table);
  const rows = data.figures.map((one) => {
    const row = part("tr", { "data-figure": one.key }, body);
    part("th", { scope: "row" }, row, `${one.words} (${u[one.unit][0]})`);
    return { one, cells: [0, 1, 2].map(() => part("td", {}, row)) };
  });
  let timer = 0, shown = null;
  function show(tell) {
    const found = states(now), mine = figures(found), was = figures(base);
    shown = { found, figures: mine };
    for (const { one, out, range } of controls) {
      range.value = now[one.key] * one.scale;
      const text = fill(one.said, { value: plain(now[one.key] * one.scale, one.digits), size: plain(100 * now.capacity ** 0.2, 1) });
      say(out, text);
      range.setAttribute("aria-valuetext", text);
    }
    for (const { one, cells } of rows) {
      const [, scale, digits] = u[one.unit], [a, b] = [was[one.key], mine[one.key]];
      say(cells[0], a === null ? w.none : plain(a * scale, digits));
      say(cells[1], b === null ? w.none : plain(b * scale, digits));
      const change = a === null || b === null || a === 0 ? "" : plain(100 * (b / a - 1), 1);
      say(cells[2], change === "" ? "" : `${b > a && Number(change) > 0 ? "+" : ""}${change} %`);
    }
    const alerts = [];
    if (found[0] === null) alerts.push(w["lugs"]);
    else if (found[0].speed >= t.rated) alerts.push(w["on-governor"]);
    if (found.some((one, k) => k && one && found[k - 1] && Math.abs(one.speed - found[k - 1].speed) > 0.12 * one.speed)) alerts.push(w["jumps"]);
    if (t.doubtful !== null && now.altitude >= t.doubtful) alerts.push(fill(w["doubtful"], { altitude: data.doubtful }));
    alert.hidden = !alerts.length;
    say(alert, alerts.join(" "));
    set(lines[0], { points: onFirst(torqueCurve(now)) });
    set(lines[1], { points: onFirst(taken(now, 0)) });
    set(lines[2], { points: onSecond(output(found)) });
    if (found[0]) {
      const [x, y] = onFirst([[rpm(found[0].speed), nm(found[0].input)]]).split(",");
      set(dot, { cx: x ?? -99, cy: y ?? -99 });
    }
    dot.setAttribute("opacity", found[0] ? 1 : 0);
    const spoken = rows.map(({ one, cells }) => `${one.words} ${cells[1].textContent} ${cells[1].textContent === w.none ? "" : u[one.unit][0]}`).join(", ");
    first.setAttribute("aria-label", `${w["panel-what-engine"]}: ${spoken}`);
    second.setAttribute("aria-label", `${w["panel-what-output"]}: ${spoken}`);
    if (tell) {
      clearTimeout(timer);
      timer = setTimeout(() => say(live, `${alerts.join(" ")} ${spoken}.`), 500);
    }
  }
  show(false);
  return {
    data, now, show: (wanted) => { Object.assign(now, middle, wanted); show(false); },
    shown: () => shown,
  };
}
