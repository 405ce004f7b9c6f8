// One slider from stall to the governor. The package computed the rows; this draws straight lines
// between them and nothing else. The same script serves a page and a notebook.

const SVG = "http://www.w3.org/2000/svg";
const WIDE = 420, HIGH = 318; // of every picture
const TURN = 2 * Math.PI;

function drawSlider(root, data, keys) {
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

  // --- numbers ---------------------------------------------------------------------------------
  const nu = data.nu, last = nu.length - 1;
  const has = (name) => name in data.rows;
  function at(where) {
    const here = Math.min(Math.max(where, nu[0]), nu[last]);
    let low = 0, high = last;
    while (high - low > 1) {
      const middle = (low + high) >> 1;
      if (nu[middle] <= here) low = middle; else high = middle;
    }
    const share = (here - nu[low]) / (nu[high] - nu[low]);
    const values = { speed_ratio: here };
    for (const [name, row] of Object.entries(data.rows)) {
      const [a, b] = [row[low], row[high]];
      values[name] = a === null || b === null ? null : a + (b - a) * share;
    }
    return values;
  }
  const plain = (number, digits) => {
    const text = number.toFixed(digits);
    return Number(text) === 0 ? text.replace("-", "") : text.replace("-", "−");
  };
  const number = (name, value) => (value === null ? data.words.unknown : plain(value, data.amounts[name][1]));
  const amount = (name, value) => (value === null ? data.words.unknown : `${number(name, value)} ${data.amounts[name][0]}`.trim());
  const fill = (text, places) => text.replace(/\{(\w+)\}/g, (_, name) => places[name]);
  const most = (name) => Math.max(...data.rows[name].map((value) => Math.abs(value ?? 0)));
  const held = (where) => data.stator === "fixed" || (data.stator === "one-way" && (data.coupling === null || where < data.coupling));
  const stator = (where) => {
    if (data.stator === "none") return data.words["stator-none"];
    if (data.stator === "fixed") return data.words["stator-fixed"];
    if (data.coupling === null) return data.words["stator-unknown"];
    return data.words[held(where) ? "stator-held" : "stator-turns"];
  };
  const oilHere = (v) => {
    if (!has("oil_settles")) return data.words["oil-unknown"];
    if (v.oil_settles === null) return data.words["oil-beyond"];
    const key = data.oil.limit !== null && v.oil_settles > data.oil.limit ? "oil-over" : "oil-settles";
    return fill(data.words[key], { settles: amount("oil_settles", v.oil_settles), limit: amount("oil_settles", data.oil.limit) });
  };
  const sentence = (v) => fill(data.words.state, {
    nu: plain(v.speed_ratio, 3), engine: amount("engine_speed", v.engine_speed), turbine: amount("turbine_speed", v.turbine_speed),
    input: amount("input_torque", v.input_torque), output: amount("turbine_torque", v.turbine_torque),
    gearbox: amount("output_power", v.output_power), heat: amount("heat", v.heat), ratio: number("torque_ratio", v.torque_ratio),
    stator: stator(v.speed_ratio), oil: oilHere(v),
  });

  // --- what is on the page -----------------------------------------------------------------------
  root.textContent = "";
  for (const text of data.alerts) part("p", { class: "alert" }, root, text);
  const bar = part("div", { class: "controls", role: "group", "aria-label": data.words.controls }, root);
  const play = part("button", { type: "button", class: "play", "aria-pressed": "false" }, bar, data.words.play);
  const quiet = window.matchMedia("(prefers-reduced-motion: reduce)");
  const flow = part("button", { type: "button", "aria-pressed": String(!quiet.matches) }, bar, data.words.flow);
  const stops = data.stops.map((stop) => {
    const button = part("button", { type: "button", "aria-pressed": "false" }, bar, stop.words);
    button.addEventListener("click", () => { pause(); show(stop.nu, true); });
    return button;
  });
  const slide = part("div", { class: "slide" }, root);
  part("span", { "aria-hidden": "true" }, slide, data.words.from);
  const range = part("input", { type: "range", min: nu[0], max: nu[last], step: "any", "aria-label": data.words.slider }, slide);
  part("span", { "aria-hidden": "true" }, slide, data.words.to);
  const marks = part("div", { class: "marks", "aria-hidden": "true" }, slide);
  for (const stop of data.stops) {
    part("i", { style: `left: ${(100 * (stop.nu - nu[0])) / (nu[last] - nu[0])}%` }, marks);
  }
  const said = part("p", { class: "said" }, root);
  const live = part("p", { class: "only-read", role: "status", "aria-live": "polite" }, root);
  const panels = part("div", { class: "panels" }, part("div", { class: "hold" }, root));
  const panel = (key) => {
    const figure = part("figure", { "data-panel": key }, panels);
    part("figcaption", {}, figure, data.words[`panel-${key}`]);
    return draw("svg", { viewBox: `0 0 ${WIDE} ${HIGH}`, role: "img" }, figure);
  };
  const drawn = [section(panel("section"))];
  if (data.blades) drawn.push(triangles(panel("triangles")));
  drawn.push(engine(panel("engine")), torques(panel("torques")), power(panel("power")));
  if (has("oil_settles")) drawn.push(oil(panel("oil")));

  // --- section: who turns, who is held -----------------------------------------------------------
  function section(svg) {
    const cx = 158, cy = 116, outer = 88, inner = 34, mean = 62, axis = 262;
    const point = (r, degrees) => {
      const angle = (degrees * TURN) / 360; // from the top, clockwise
      return [cx + r * Math.sin(angle), cy - r * Math.cos(angle)];
    };
    const ring = (from, to, a, b) => {
      const [p, q, r, s] = [point(b, from), point(b, to), point(a, to), point(a, from)];
      const large = to - from > 180 ? 1 : 0;
      return `M${p}A${b} ${b} 0 ${large} 1 ${q}L${r}A${a} ${a} 0 ${large} 0 ${s}Z`;
    };
    const arc = (from, to, r) => `M${point(r, from)}A${r} ${r} 0 ${to - from > 180 ? 1 : 0} 1 ${point(r, to)}`;
    // Shafts and shell first, blades upon them.
    draw("line", { x1: 8, x2: 330, y1: axis, y2: axis, class: "slate", "stroke-dasharray": "12 4 2 4" }, svg);
    draw("path", { d: `M14 ${axis - 6}H42V${axis - 60}L${point(98, -128)}`, class: "ink", "stroke-width": 7, "stroke-linejoin": "round" }, svg);
    draw("path", { d: arc(-128, 150, 98), class: "ink", "stroke-width": 7 }, svg);
    draw("path", { d: `M${point(98, 150)}L${cx + 66} ${axis - 40}H268`, class: "ink", "stroke-width": 7, "stroke-linejoin": "round" }, svg);
    draw("path", { d: `M${point(86, -150)}L${cx - 46} ${axis - 13}H322`, class: "brick", "stroke-width": 8, "stroke-linejoin": "round" }, svg);
    const blades = [];
    const row = (from, to, name) => {
      draw("path", { d: ring(from, to, inner, outer), class: `${name} row`, "stroke-width": 2, style: `fill: color-mix(in srgb, var(--${name}) 16%, var(--paper))` }, svg);
      for (let angle = from + 12; angle < to; angle += 24) {
        const [a, b] = [point(inner + 3, angle), point(outer - 3, angle)];
        blades.push(draw("line", { x1: a[0], y1: a[1], x2: b[0], y2: b[1], class: name, "stroke-width": 1, opacity: 0.55 }, svg));
      }
    };
    const alone = data.stator === "none";
    row(3, alone ? 177 : 145, "petrol");
    row(alone ? -177 : -145, -3, "brick");
    let clutch = null, lock = null;
    if (!alone) {
      row(149, 211, "plum");
      draw("path", { d: `M${cx} ${cy + outer}V${axis - 34}`, class: "plum", "stroke-width": 7 }, svg);
      draw("path", { d: `M${cx - 14} ${axis - 26}H330`, class: "plum", "stroke-width": 6 }, svg);
      for (let x = 306; x <= 330; x += 8) draw("line", { x1: x, x2: x + 7, y1: axis - 30, y2: axis - 41, class: "plum", "stroke-width": 1.5 }, svg);
      if (data.stator === "one-way") {
        clutch = draw("rect", { x: cx - 13, y: axis - 46, width: 26, height: 17, rx: 3, class: "plum", "stroke-width": 2 }, svg);
        lock = draw("circle", { cx, cy: axis - 37.5, r: 4.5, class: "plum", "stroke-width": 2 }, svg);
      }
    }
    const drops = [];
    for (let k = 0; k < 14; k += 1) drops.push(draw("circle", { r: 4.2, class: "f-ink ink", style: "stroke: var(--paper)" }, svg));
    const head = draw("path", { d: "M-6 -5L6 0L-6 5Z", class: "head", style: "fill: var(--ink); stroke: var(--paper)" }, svg);
    const name = (x, y, text, anchor, to, style) => {
      if (to) draw("line", { x1: x + (anchor === "end" ? 3 : anchor === "start" ? -3 : 0), y1: y - 4, x2: to[0], y2: to[1], class: "slate", "stroke-width": 1 }, svg);
      draw("text", { x, y, "text-anchor": anchor, class: `halo ${style ?? ""}` }, svg, text);
    };
    const w = data.words;
    name(4, axis - 72, w.cover, "start");
    name(4, axis + 18, w.engine, "start");
    name(4, 74, w.turbine, "start", null, "t-brick strong");
    draw("line", { x1: 66, y1: 76, x2: cx - 56, y2: 92, class: "slate", "stroke-width": 1 }, svg);
    draw("line", { x1: 262, y1: 42, x2: cx + 50, y2: 80, class: "slate", "stroke-width": 1 }, svg);
    if (!alone) draw("line", { x1: 282, y1: 184, x2: cx + 22, y2: cy + 78, class: "slate", "stroke-width": 1 }, svg);
    name(326, axis + 3, w.gearbox, "start");
    if (data.stator === "one-way") name(cx - 6, axis + 18, w.clutch, "middle", [cx, axis - 28]);
    if (!alone) name(338, axis - 30, w.housing, "start");
    // Seen along the shaft: how fast each turns.
    const dials = [];
    const dial = (y, key, colour, title) => {
      draw("circle", { cx: 370, cy: y, r: 26, class: colour, "stroke-width": 2, fill: "none" }, svg);
      const spokes = draw("g", {}, svg);
      for (let k = 0; k < 6; k += 1) draw("path", { d: `M370 ${y - 6}q7 -9 4 -19`, class: colour, "stroke-width": 2, transform: `rotate(${60 * k} 370 ${y})` }, spokes);
      const label = draw("text", { x: 338, y: y - 3, "text-anchor": "end", class: `halo t-${colour} strong` }, svg, title);
      const speed = draw("text", { x: 338, y: y + 15, "text-anchor": "end", class: "halo" }, svg);
      label.classList.add("dial");
      dials.push({ y, key, spokes, speed, angle: 0 });
    };
    dial(44, "engine_speed", "petrol", w.impeller);
    dial(116, "turbine_speed", "brick", w.turbine);
    if (!alone) dial(188, "stator_speed", "plum", w.stator);
    const turns = draw("text", { x: 4, y: HIGH - 6, class: "strong" }, svg);
    let phase = 0;
    const fastest = most("engine_speed");
    function place(v) {
      drops.forEach((drop, k) => {
        const [x, y] = point(mean, phase + (360 * k) / drops.length);
        set(drop, { cx: x, cy: y });
      });
      const [x, y] = point(mean, phase + 180 / drops.length);
      set(head, { transform: `translate(${x} ${y}) rotate(${phase + 180 / drops.length + 180}) scale(1.35)` });
      for (const d of dials) set(d.spokes, { transform: `rotate(${d.angle} 370 ${d.y})` });
    }
    return {
      label: (v) => `${w["panel-section"]}: ${w.impeller} ${amount("engine_speed", v.engine_speed)}, ${w.turbine} ${amount("turbine_speed", v.turbine_speed)}; ${stator(v.speed_ratio)}.`,
      svg,
      move(v) {
        const locked = held(v.speed_ratio);
        const unknown = data.stator === "one-way" && data.coupling === null;
        if (clutch) {
          set(clutch, { style: `fill: ${locked && !unknown ? "var(--plum)" : "var(--paper)"}` });
          set(lock, { style: `fill: ${locked && !unknown ? "var(--paper)" : "none"}` });
        }
        say(turns, stator(v.speed_ratio));
        for (const d of dials) {
          const still = d.key === "stator_speed" && locked && !unknown;
          const value = still ? 0 : d.key in v ? v[d.key] : null;
          d.value = value;
          say(d.speed, still ? w.held : value === null || unknown && d.key === "stator_speed" ? w["not-known"] : amount("engine_speed", value));
        }
        place(v);
      },
      tick(v, seconds) {
        // Slowed down so that an eye can follow: the impeller makes half a turn a second at most.
        const pace = has("meridional") ? v.meridional / most("meridional") : (v.engine_speed / fastest) * (1 - v.speed_ratio);
        phase = (phase - 110 * pace * seconds) % 360;
        for (const d of dials) d.angle = (d.angle + ((180 * (d.value ?? 0)) / fastest) * seconds) % 360;
        place(v);
      },
    };
  }

  // --- velocity triangles ------------------------------------------------------------------------
  function arrow(svg, colour, dash) {
    const line = draw("line", { class: colour, "stroke-width": 2.4, "stroke-dasharray": dash }, svg);
    const head = draw("path", { d: "M0 0L-9 -4V4Z", class: colour, style: `fill: var(--${colour}); stroke: none` }, svg);
    return (x1, y1, x2, y2) => {
      const long = Math.hypot(x2 - x1, y2 - y1);
      set(line, { x1, y1, x2, y2 });
      set(head, { transform: `translate(${x2} ${y2}) rotate(${(Math.atan2(y2 - y1, x2 - x1) * 360) / TURN})`, opacity: long < 2 ? 0 : 1 });
    };
  }
  function triangles(svg) {
    const rows = ["impeller", "turbine", "stator"], w = data.words;
    const sides = rows.flatMap((row) => ["blade", "swirl"].flatMap((side) => data.rows[`${row}_${side}`]));
    const low = Math.min(0, ...sides), high = Math.max(...sides), through = most("meridional");
    const scale = Math.min((WIDE - 138) / (high - low), 60 / through);
    const zero = 12 - low * scale;
    const made = rows.map((row, k) => {
      const base = 96 + 82 * k;
      draw("text", { x: WIDE - 120, y: base - 54, class: "strong" }, svg, w[`leaves-${row}`]);
      draw("line", { x1: 4, x2: WIDE - 126, y1: base, y2: base, class: "soft", "stroke-width": 1 }, svg);
      draw("circle", { cx: zero, cy: base, r: 3, class: "f-slate" }, svg);
      const next = draw("line", { class: "slate", "stroke-width": 1.6, "stroke-dasharray": "2 4" }, svg);
      return {
        row, base, next, blade: arrow(svg, "petrol", "none"), along: arrow(svg, "plum", "8 3 2 3"), oil: arrow(svg, "brick", "none"),
        text: [0, 17, 34].map((y) => draw("text", { x: WIDE - 120, y: base - 37 + y, class: "small" }, svg)),
      };
    });
    const key = draw("text", { x: 4, y: 15, class: "small" }, svg);
    for (const [text, style] of [[w["key-blade"], "t-petrol"], [w["key-along"], "t-plum"], [w["key-oil"], "t-brick"], [w["key-next"], ""]]) {
      draw("tspan", { style: style ? `fill: var(--${style.slice(2)})` : "", dx: key.childNodes.length ? 9 : 0 }, key, text);
    }
    const sum = [20, 4].map((up) => draw("text", { x: 4, y: HIGH - up, class: "small" }, svg));
    return {
      svg,
      label: (v) => `${w["panel-triangles"]}: ${rows.map((row) => `${w[`leaves-${row}`]} ${amount("meridional", v[`${row}_swirl`])} ${w.swirl}`).join("; ")}.`,
      move(v) {
        for (const t of made) {
          const [u, s, n] = [v[`${t.row}_blade`], v[`${t.row}_swirl`], v[`${t.row}_next`]];
          const x = (value) => zero + scale * value, top = t.base - scale * v.meridional;
          t.blade(x(0), t.base, x(u), t.base);
          t.along(x(u), t.base, x(s), top);
          t.oil(x(0), t.base, x(s), top);
          const after = rows[(rows.indexOf(t.row) + 1) % rows.length];
          const nextBlade = v[`${after}_blade`] * data.radii[t.row] / data.radii[after];
          set(t.next, { x1: x(nextBlade), y1: t.base, x2: x(n), y2: top });
          say(t.text[0], `u ${amount("meridional", u)}`);
          say(t.text[1], `${w["swirl-short"]} ${amount("meridional", s)}`);
          say(t.text[2], `${w.shock} ${amount("meridional", Math.abs(s - n))}`);
        }
        const turn = (row, before) => data.radii[row] * v[`${row}_swirl`] - data.radii[before] * v[`${before}_swirl`];
        const parts = [turn("impeller", "stator"), turn("turbine", "impeller"), turn("stator", "turbine")];
        const digits = data.amounts.turn[1];
        say(sum[0], w["swirl-sum"]);
        say(sum[1], fill(w["swirl-parts"], { impeller: plain(parts[0], digits), turbine: plain(parts[1], digits), stator: plain(parts[2], digits), sum: plain(parts[0] + parts[1] + parts[2], digits), unit: data.amounts.turn[0] }));
      },
    };
  }

  // --- engine curve and running point ------------------------------------------------------------
  function ticks(most_, count) {
    const raw = most_ / count, power_ = 10 ** Math.floor(Math.log10(raw));
    const step = [1, 2, 5, 10].map((f) => f * power_).find((f) => f >= raw);
    const found = [];
    for (let value = 0; value <= most_ * 1.0001; value += step) found.push(value);
    return found;
  }
  function engine(svg) {
    const w = data.words, e = data.engine, left = 56, right = WIDE - 12, top = 26, foot = HIGH - 48;
    const fast = Math.max(...e.speed), strong = Math.max(...e.torque) * 1.12;
    const x = (value) => left + ((right - left) * value) / fast, y = (value) => foot - ((foot - top) * value) / strong;
    for (const value of ticks(fast, 4)) {
      draw("line", { x1: x(value), x2: x(value), y1: top, y2: foot, class: "soft" }, svg);
      draw("text", { x: x(value), y: foot + 17, "text-anchor": "middle", class: "small" }, svg, plain(value, 0));
    }
    for (const value of ticks(strong, 4)) {
      draw("line", { x1: left, x2: right, y1: y(value), y2: y(value), class: "soft" }, svg);
      draw("text", { x: left - 5, y: y(value) + 4, "text-anchor": "end", class: "small" }, svg, plain(value, 0));
    }
    draw("text", { x: right, y: HIGH - 8, "text-anchor": "end" }, svg, `${w["engine-speed"]} (${data.amounts.engine_speed[0]})`);
    draw("text", { x: 4, y: 15 }, svg, `${w.torque} (${data.amounts.input_torque[0]})`);
    const line = (speeds, values) => speeds.map((s, k) => `${x(s).toFixed(1)},${y(values[k]).toFixed(1)}`).join(" ");
    // Two rows that all but agree are a jump of the engine: no line joins them.
    const cuts = [0, ...nu.map((_, j) => j).filter((j) => j > 0 && nu[j] - nu[j - 1] < 2e-6), nu.length];
    cuts.slice(1).forEach((to, j) => {
      const piece = (values) => values.slice(cuts[j], to);
      draw("polyline", { points: line(piece(data.rows.engine_speed), piece(data.rows.input_torque)), class: "brick", "stroke-width": 6, opacity: 0.45, "stroke-linecap": "round" }, svg);
    });
    draw("polyline", { points: line(e.speed, e.torque), class: "ink", "stroke-width": 2.2 }, svg);
    const k = e.torque.indexOf(Math.max(...e.torque));
    draw("text", { x: Math.min(x(e.speed[k]) - 60, right - 130), y: y(e.torque[k]) - 9, class: "halo strong" }, svg, w["engine-net"]);
    const absorbed = draw("polyline", { class: "petrol", "stroke-width": 2, "stroke-dasharray": "2 3" }, svg);
    const name = draw("text", { class: "halo t-petrol", "text-anchor": "start" }, svg);
    const guide = draw("polyline", { class: "slate", "stroke-width": 1, "stroke-dasharray": "4 4" }, svg);
    const dot = draw("circle", { r: 7, style: "fill: var(--brick); stroke: var(--paper)", "stroke-width": 2 }, svg);
    const note = draw("text", { class: "halo strong", "text-anchor": "end" }, svg);
    return {
      svg,
      label: (v) => `${w["panel-engine"]}: ${amount("engine_speed", v.engine_speed)}, ${amount("input_torque", v.input_torque)}.`,
      move(v) {
        const points = [];
        const end = Math.min(fast, v.engine_speed * Math.sqrt(strong / Math.max(v.input_torque, 1e-9)));
        for (let j = 0; j <= 40; j += 1) {
          const speed = (end * j) / 40;
          points.push(`${x(speed).toFixed(1)},${y(v.input_torque * (speed / v.engine_speed) ** 2).toFixed(1)}`);
        }
        set(absorbed, { points: points.join(" ") });
        const beside = 0.45 * v.engine_speed;
        set(name, { x: x(beside) + 12, y: Math.min(y(v.input_torque * 0.2025) + 18, foot - 7) });
        say(name, fill(w.absorbs, { nu: plain(v.speed_ratio, 2) }));
        const [a, b] = [x(v.engine_speed), y(v.input_torque)];
        set(guide, { points: `${left},${b} ${a},${b} ${a},${foot}` });
        set(dot, { cx: a, cy: b });
        set(note, { x: a - 12, y: b + 24 });
        say(note, amount("engine_speed", v.engine_speed));
      },
    };
  }

  // --- torques that balance, power that is shared --------------------------------------------------
  function block(svg, colour, hatch) {
    const box = draw("rect", { style: `fill: color-mix(in srgb, var(--${colour}) ${hatch ? 30 : 75}%, var(--paper))`, class: colour, "stroke-width": 2, "stroke-dasharray": hatch ? "5 3" : "none" }, svg);
    return (x, y, width, height) => set(box, { x, y, width: Math.max(width, 0), height: Math.max(height, 0), opacity: height < 0.4 || width < 0.4 ? 0 : 1 });
  }
  function torques(svg) {
    const w = data.words, foot = HIGH - 54, top = 28;
    const scale = (foot - top) / Math.max(most("turbine_torque"), most("input_torque"));
    const boxes = { impeller: block(svg, "petrol"), stator: block(svg, "plum", true), turbine: block(svg, "brick"), back: block(svg, "plum", true) };
    draw("line", { x1: 20, x2: WIDE - 20, y1: foot, y2: foot, class: "ink", "stroke-width": 2 }, svg);
    const words = ["impeller", "stator", "turbine"].map((name) => [draw("text", { class: "halo strong" }, svg), draw("text", { class: "halo" }, svg), name]);
    draw("text", { x: 140, y: foot + 19, "text-anchor": "middle" }, svg, w["on-oil"]);
    draw("text", { x: 272, y: foot + 19, "text-anchor": "middle" }, svg, w["off-oil"]);
    const ratio = draw("text", { x: WIDE - 8, y: 16, "text-anchor": "end", class: "strong" }, svg);
    const sum = draw("text", { x: WIDE / 2, y: HIGH - 8, "text-anchor": "middle", class: "sum", "data-sum": "torque" }, svg);
    return {
      svg,
      label: (v) => `${w["panel-torques"]}: ${w.impeller} ${amount("input_torque", v.input_torque)}, ${w.stator} ${amount("stator_torque", v.stator_torque)}, ${w.turbine} ${amount("turbine_torque", v.turbine_torque)}.`,
      move(v) {
        const [p, s, t] = [v.input_torque, v.stator_torque, v.turbine_torque].map((value) => scale * value);
        const push = Math.max(s, 0), pull = Math.max(-s, 0);
        boxes.impeller(110, foot - p, 60, p);
        boxes.stator(110, foot - p - push, 60, push);
        boxes.turbine(242, foot - t, 60, t);
        boxes.back(242, foot - t - pull, 60, pull);
        const middle = [foot - p / 2, s >= 0 ? foot - p - push / 2 : foot - t - pull / 2, foot - t / 2];
        if (s >= 0) middle[1] = Math.min(middle[1], middle[0] - 40);
        words.forEach(([title, value, name], k) => {
          const right = name === "turbine" || (name === "stator" && s < 0);
          const x = right ? 309 : 103;
          set(title, { x, y: middle[k] - 2, "text-anchor": right ? "start" : "end" });
          set(value, { x, y: middle[k] + 16, "text-anchor": right ? "start" : "end" });
          const off = name === "stator" && data.stator === "none";
          say(title, off ? "" : w[name]);
          say(value, off ? "" : amount("input_torque", [v.input_torque, v.stator_torque, v.turbine_torque][k]));
        });
        say(sum, fill(w["torque-sum"], {
          impeller: number("input_torque", v.input_torque), stator: number("input_torque", v.stator_torque),
          turbine: number("input_torque", v.turbine_torque), unit: data.amounts.input_torque[0],
          left: plain(v.input_torque + v.stator_torque - v.turbine_torque, data.amounts.input_torque[1]),
        }));
        say(ratio, `${w["torque-ratio"]} ${number("torque_ratio", v.torque_ratio)}`);
      },
    };
  }
  function power(svg) {
    const w = data.words, left = 14, wide = WIDE - 28, scale = wide / most("input_power");
    const boxes = { in: block(svg, "petrol"), out: block(svg, "brick"), oil: block(svg, "plum", true) };
    const line = (y, style) => draw("text", { x: left, y, class: style }, svg);
    const texts = [line(42, "strong"), line(126, "strong"), line(147, "")];
    const share = line(266, "strong");
    const track = draw("rect", { x: left, y: 236, width: wide, height: 9, class: "f-soft" }, svg);
    const good = draw("rect", { x: left, y: 236, height: 9, class: "f-ink" }, svg);
    track.setAttribute("rx", 2);
    const sum = draw("text", { x: WIDE / 2, y: HIGH - 8, "text-anchor": "middle", class: "sum", "data-sum": "power" }, svg);
    return {
      svg,
      label: (v) => `${w["panel-power"]}: ${amount("input_power", v.input_power)}; ${w["to-gearbox"]} ${amount("output_power", v.output_power)}; ${w["to-oil"]} ${amount("heat", v.heat)}.`,
      move(v) {
        boxes.in(left, 54, scale * v.input_power, 44);
        boxes.out(left, 164, scale * v.output_power, 44);
        boxes.oil(left + scale * v.output_power, 164, scale * v.heat, 44);
        say(texts[0], `${w["from-engine"]}: ${amount("input_power", v.input_power)}`);
        say(texts[1], `${w["to-gearbox"]}: ${amount("output_power", v.output_power)}`);
        say(texts[2], `${w["to-oil"]}: ${amount("heat", v.heat)}`);
        set(good, { width: Math.max(wide * v.efficiency, 0) });
        say(share, `${w.efficiency}: ${plain(100 * v.efficiency, 1)} %`);
        say(sum, fill(w["power-sum"], {
          in: number("input_power", v.input_power), out: number("output_power", v.output_power), heat: number("heat", v.heat),
          unit: data.amounts.heat[0], left: plain(v.input_power - v.output_power - v.heat, data.amounts.heat[1]),
        }));
      },
    };
  }

  // --- oil temperature if held there ---------------------------------------------------------------
  function oil(svg) {
    const w = data.words, o = data.oil, foot = 268, top = 20, x = 78;
    const y = (value) => foot - ((foot - top) * (Math.min(value, o.top) - o.bottom)) / (o.top - o.bottom);
    draw("rect", { x: x - 13, y: top - 6, width: 26, height: foot - top + 12, rx: 13, class: "slate", fill: "none", "stroke-width": 2 }, svg);
    for (const value of o.ticks) {
      draw("line", { x1: x - 22, x2: x - 15, y1: y(value), y2: y(value), class: "slate" }, svg);
      draw("text", { x: x - 26, y: y(value) + 4, "text-anchor": "end", class: "small" }, svg, plain(value, 0));
    }
    draw("circle", { cx: x, cy: foot + 8, r: 18, class: "f-brick" }, svg);
    const column = draw("rect", { x: x - 7, width: 14, class: "f-brick" }, svg);
    const beyond = draw("path", { d: `M${x - 9} ${top}L${x} ${top - 16}L${x + 9} ${top}Z`, style: "fill: var(--brick)" }, svg);
    if (o.limit !== null) {
      draw("line", { x1: x - 20, x2: x + 42, y1: y(o.limit), y2: y(o.limit), class: "ink", "stroke-width": 2 }, svg);
      draw("text", { x: x + 46, y: y(o.limit) + 4, class: "strong" }, svg, `${w.limit} ${amount("oil_settles", o.limit)}`);
    }
    const settles = draw("text", { x: 150, y: 34, class: "strong" }, svg);
    const verdict = draw("text", { x: 150, y: 57 }, svg);
    const below = o.limit !== null && y(o.limit) > 75 && y(o.limit) < 190 ? 214 : 130;
    const more = [0, 22, 44].map((step) => draw("text", { x: 150, y: below + step }, svg));
    return {
      svg,
      label: (v) => `${w["panel-oil"]}: ${oilHere(v)}.`,
      move(v) {
        const there = v.oil_settles ?? o.top + 1;
        const height = y(there);
        set(column, { y: height, height: foot - height });
        set(beyond, { opacity: there > o.top ? 1 : 0 });
        say(settles, v.oil_settles === null ? w["oil-beyond"] : fill(w["oil-would"], { settles: amount("oil_settles", v.oil_settles) }));
        say(verdict, o.limit === null ? w["no-limit"] : there > o.limit ? w["over-limit"] : w["under-limit"]);
        say(more[0], has("outlet_above") ? fill(w["outlet-above"], { above: amount("outlet_above", v.outlet_above) }) : "");
        say(more[1], has("oil_rate") ? fill(w["oil-rate"], { rate: (v.oil_rate > 0 ? "+" : "") + amount("oil_rate", v.oil_rate) }) : "");
        say(more[2], has("oil_rate") ? fill(w["oil-from"], { start: amount("oil_settles", o.start) }) : "");
      },
    };
  }

  // --- moving ----------------------------------------------------------------------------------------
  const state = { nu: nu[0], values: at(nu[0]), playing: false, hold: 0, timer: 0, before: 0 };
  function show(where, tell) {
    state.nu = Math.min(Math.max(where, nu[0]), nu[last]);
    const v = (state.values = at(state.nu));
    for (const one of drawn) {
      one.move(v);
      one.svg.setAttribute("aria-label", one.label(v));
    }
    range.value = state.nu;
    range.setAttribute("aria-valuetext", fill(data.words.valuetext, { nu: plain(v.speed_ratio, 3), turbine: amount("turbine_speed", v.turbine_speed) }));
    stops.forEach((button, k) => button.setAttribute("aria-pressed", String(Math.abs(data.stops[k].nu - state.nu) < 1e-6)));
    const here = data.stops.find((stop) => Math.abs(stop.nu - state.nu) < 1e-6);
    const text = (here ? `${here.words}: ` : "") + sentence(v);
    say(said, text);
    if (tell) {
      clearTimeout(state.timer);
      state.timer = setTimeout(() => say(live, text), 350);
    }
  }
  function pause() {
    state.playing = false;
    play.setAttribute("aria-pressed", "false");
    say(play, data.words.play);
  }
  function start() {
    if (state.nu >= nu[last] - 1e-9) show(nu[0], true);
    state.playing = true;
    state.hold = performance.now() + 600;
    play.setAttribute("aria-pressed", "true");
    say(play, data.words.pause);
  }
  const whole = 18; // seconds from stall to the governor, without the stops
  function frame(now) {
    if (!root.isConnected) { loose(); return; }
    const seconds = Math.min((now - state.before) / 1000, 0.1);
    state.before = now;
    if (state.playing && now >= state.hold) {
      const next = data.stops.find((stop) => stop.nu > state.nu + 1e-9);
      // Who wants no motion gets the stops, one after the other.
      const step = quiet.matches ? Infinity : ((nu[last] - nu[0]) * seconds) / whole;
      const goal = Math.min(state.nu + step, next ? next.nu : nu[last]);
      const arrived = goal >= (next ? next.nu : nu[last]) - 1e-12;
      show(goal, arrived);
      if (arrived) state.hold = now + (quiet.matches ? 3500 : 1600);
      if (goal >= nu[last] - 1e-9) pause();
    }
    if (flow.getAttribute("aria-pressed") === "true") drawn[0].tick(state.values, seconds);
    requestAnimationFrame(frame);
  }
  function key(event) {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const button = event.target.closest && event.target.closest("button, summary, a, select, textarea, input:not([type=range])");
    const small = (event.shiftKey ? 0.05 : 0.01);
    const moves = {
      ArrowRight: () => state.nu + small, ArrowUp: () => state.nu + small, ArrowLeft: () => state.nu - small, ArrowDown: () => state.nu - small,
      Home: () => nu[0], End: () => nu[last],
      PageUp: () => (data.stops.find((stop) => stop.nu > state.nu + 1e-9) ?? { nu: nu[last] }).nu,
      PageDown: () => ([...data.stops].reverse().find((stop) => stop.nu < state.nu - 1e-9) ?? { nu: nu[0] }).nu,
    };
    if (event.key === " " && !button) {
      if (state.playing) pause(); else start();
    } else if (moves[event.key] && (event.target === range || !(event.target.closest && event.target.closest(".scroll")))) {
      pause();
      show(Math.round(moves[event.key]() * 1e9) / 1e9, true);
    } else return;
    event.preventDefault();
    event.stopPropagation();
  }
  const listening = keys ?? root;
  function loose() { listening.removeEventListener("keydown", key); }
  listening.addEventListener("keydown", key);
  range.addEventListener("input", () => { pause(); show(Number(range.value), true); });
  play.addEventListener("click", () => (state.playing ? pause() : start()));
  flow.addEventListener("click", () => flow.setAttribute("aria-pressed", String(flow.getAttribute("aria-pressed") !== "true")));
  show(nu[0], false);
  requestAnimationFrame(frame);
  return { show: (where) => show(where, false), at, state, data, loose };
}
