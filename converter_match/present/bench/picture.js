// Draws the match picture from one message: plain data and a block of float32 pairs.
// Elements are made once and then only moved, so that a held key keeps up with the kernel. Sizes are
// real pixels: the picture is laid out again when its width or the size of the letters changes.

const NS = "http://www.w3.org/2000/svg";
const LETTERS = 12; // px at font scale 1
const GLYPH = 0.6; // width of a letter as a share of its height
const LOW_SCREEN = 900; // px, as in the kernel
const FAMILY = "speed ratio";
const HEAD = ["", "A", "B", "B − A", "unit"];
const HEAD_OF_TWO = ["", "A, present", "B, candidate", "candidate − present", "unit"];
// A name is known by its shape, a side by its filling; stall, coupling point and governed limit
// look the same in every panel.
const SHAPES = {
  "stall": "M-5,0A5,5 0 1 1 5,0A5,5 0 1 1 -5,0Z",
  "coupling point": "M0,-6.5L6.5,0L0,6.5L-6.5,0Z",
  "governed limit": "M0,-6.2L6,4.6H-6Z",
  "speed limit": "M0,-6.2L6,4.6H-6Z",
};

// Whose name stands over it: the higher one of two.
const ABOVE = ["gross", "torque-dashed", "heat-dashed", "efficiency"];
// Of two machines the names on the curves are those of A, but for a motor's two torques.
const OWN_NAME = /^B (peak|continuous)/;

// A point at one of a motor's torques goes by the name of its kind, then that of the torque.
function outline(name) {
  const kind = Object.keys(SHAPES).find((each) => name.startsWith(each));
  return SHAPES[kind || "coupling point"];
}

function make(kind, attributes, parent) {
  const element = document.createElementNS(NS, kind);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  parent.appendChild(element);
  return element;
}

function html(kind, className, parent, text) {
  const element = document.createElement(kind);
  if (className) element.className = className;
  if (text !== undefined) element.textContent = text;
  parent.appendChild(element);
  return element;
}

function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

// Left, top, width and height of each panel's axes, and the place of the words above them.
function layout(width, scale, words, low) {
  const f = LETTERS * scale;
  const longest = Math.max(1, ...words.map((text) => text.length)) * GLYPH * f + 2 * f;
  const columns = Math.max(1, Math.min(3, Math.floor(width / longest)));
  const rows = Math.ceil(words.length / columns);
  const above = 0.5 * f + 1.45 * f * rows;
  const margin = 4 * GLYPH * f + 14;
  const foot = 3.1 * f;
  const wide = width / scale >= 480;
  const leftWidth = wide ? Math.round(0.56 * width) : width;
  const top = above + 3.2 * f;
  // Large letters on a low screen: the axes give a little, so that all of them are seen at once.
  const tall = low ? 228 + 44 * scale : 258 + 44 * scale;
  const places = { engine: [margin, top, leftWidth - margin - 1.6 * f, tall] };
  const left = wide ? leftWidth + margin : margin;
  const right = width - left - 1.6 * f;
  const start = wide ? above + 1.9 * f : top + tall + foot + 1.9 * f;
  const room = (wide ? top + tall - start : tall) - 2 * 2.1 * f;
  const shares = [0.46, 0.27, 0.27];
  let y = start;
  ["torque", "efficiency", "heat"].forEach((id, i) => {
    places[id] = [left, y, right, Math.max(30, shares[i] * room)];
    y += places[id][3] + 2.1 * f;
  });
  const last = places.heat;
  const height = Math.max(top + tall, last[1] + last[3]) + foot;
  return { places, height, f, columns, longest };
}

class PanelView {
  constructor(svg, id, look) {
    this.id = id;
    this.look = look;
    this.group = make("g", { "data-panel": id }, svg);
    const clip = make("clipPath", { id: `cm-clip-${id}-${Math.random().toString(36).slice(2)}` }, this.group);
    this.window = make("rect", {}, clip);
    this.band = make("rect", { class: "cm-band", width: 0 }, this.group);
    this.grid = make("g", { class: "cm-grid" }, this.group);
    this.guides = make("g", { class: "cm-guides" }, this.group);
    this.curves = make("g", { "clip-path": `url(#${clip.id})` }, this.group);
    this.words = make("g", { class: "cm-words" }, this.group);
    this.title = make("text", { class: "cm-axis" }, this.group);
    this.xName = make("text", { class: "cm-axis", "text-anchor": "end" }, this.group);
    this.lines = new Map();
    this.labels = new Map();
    this.points = new Map();
    this.axisKey = "";
  }

  place([left, top, width, height], f) {
    [this.left, this.top, this.width, this.height, this.f] = [left, top, width, height, f];
    this.axisKey = "";
    for (const [name, value] of [["x", left], ["y", top], ["width", width], ["height", height]]) this.window.setAttribute(name, value);
    this.band.setAttribute("y", top);
    this.band.setAttribute("height", height);
    this.title.setAttribute("x", this.id === "engine" ? 0 : left);
    this.title.setAttribute("y", top - (this.id === "engine" ? 1.9 : 0.6) * f);
    this.xName.setAttribute("x", left + width);
    this.xName.setAttribute("y", top + height + 2.7 * f);
  }

  px(x) { return this.left + (this.width * (x - this.xr[0])) / (this.xr[1] - this.xr[0]); }

  py(y) { return this.top + this.height - (this.height * (y - this.yr[0])) / (this.yr[1] - this.yr[0]); }

  // Every tick has its line; only so many have their number that numbers do not touch.
  thinned(ticks, room, needed) {
    const every = Math.ceil((needed * ticks.length) / Math.max(room, 1));
    return ticks.filter((_, i) => i % Math.max(every, 1) === 0);
  }

  axes(panel) {
    const key = JSON.stringify([panel.xr, panel.yr, panel.x, panel.y, panel.guides]);
    if (key === this.axisKey) return;
    this.axisKey = key;
    this.grid.replaceChildren();
    this.guides.replaceChildren();
    const f = this.f;
    const bottom = this.top + this.height;
    const showX = this.id === "engine" || this.id === "heat";
    for (const x of panel.xt) make("line", { x1: this.px(x), x2: this.px(x), y1: this.top, y2: bottom }, this.grid);
    if (showX) {
      for (const x of this.thinned(panel.xt, this.width, 4.6 * GLYPH * f)) {
        make("text", { class: "cm-tick", x: this.px(x), y: bottom + 1.25 * f, "text-anchor": "middle" }, this.grid).textContent = x;
      }
    }
    for (const y of this.thinned(panel.yt, this.height, 1.25 * f)) {
      make("line", { x1: this.left, x2: this.left + this.width, y1: this.py(y), y2: this.py(y) }, this.grid);
      make("text", { class: "cm-tick", x: this.left - 6, y: this.py(y) + 0.35 * f, "text-anchor": "end" }, this.grid).textContent = y;
    }
    make("path", { class: "cm-frame", d: `M${this.left},${this.top}V${bottom}H${this.left + this.width}` }, this.grid);
    for (const [x, name, up] of panel.guides) {
      const at = this.px(x);
      make("line", { x1: at, x2: at, y1: this.top, y2: bottom }, this.guides);
      // Where no curve runs: above them or below, high idle beyond the governed run-out.
      const side = name === "high idle" ? f : -4;
      make("text", { class: "cm-guide", "text-anchor": up ? "end" : "start", transform: `translate(${at + side},${up ? this.top + 4 : bottom - 6}) rotate(-90)` }, this.guides).textContent = name;
    }
    say(this.title, panel.y);
    say(this.xName, showX ? panel.x : "");
  }

  keep(map, seen) {
    for (const [id, element] of map) {
      if (!seen.has(id)) {
        element.remove();
        map.delete(id);
      }
    }
  }

  draw(panel, numbers) {
    this.panel = panel;
    this.xr = panel.xr;
    this.yr = panel.yr;
    this.axes(panel);
    if (panel.band) {
      const low = this.px(panel.band[0]);
      this.band.setAttribute("x", low);
      this.band.setAttribute("width", Math.max(0, this.px(panel.band[1]) - low));
    } else {
      this.band.setAttribute("width", 0);
    }
    const seen = new Set();
    const labelled = new Set();
    for (const [id, stroke, side, start, count, label, lx, ly] of panel.lines) {
      seen.add(id);
      let path = this.lines.get(id);
      if (!path) {
        const [color, width, dash] = this.look[stroke];
        path = make("path", { fill: "none", style: `stroke: var(--cm-${color})`, "stroke-width": width, "stroke-linejoin": "round", "data-line": id }, this.curves);
        const dashes = side === "b" ? (dash ? "2 5" : "9 5") : dash;
        if (dashes) path.setAttribute("stroke-dasharray", dashes);
        this.lines.set(id, path);
      }
      let d = "";
      let pen = "M";
      for (let i = start; i < start + 2 * count; i += 2) {
        const x = numbers[i];
        const y = numbers[i + 1];
        if (x !== x || y !== y) {
          pen = "M";
          continue;
        }
        d += pen + Math.round(10 * this.px(x)) / 10 + "," + Math.round(10 * this.py(y)) / 10;
        pen = "L";
      }
      if (path.cmDrawn !== d) {
        path.cmDrawn = d;
        path.setAttribute("d", d);
      }
      if (label && (side === "a" || OWN_NAME.test(label))) {
        labelled.add(id);
        this.label(id, stroke, label, lx, ly);
      }
    }
    this.keep(this.lines, seen);
    this.keep(this.labels, labelled);
    this.spread();
    this.marks(panel.marks);
  }

  label(id, stroke, words, x, y) {
    let text = this.labels.get(id);
    if (!text) {
      text = make("text", { class: "cm-label", style: `fill: var(--cm-${this.look[stroke][0]})` }, this.words);
      this.labels.set(id, text);
    }
    const family = stroke === "absorbed";
    const leaves = family && this.py(y) < this.top + 1;
    text.cmLeaves = leaves;
    text.cmFamily = family;
    const outside = family && !leaves && this.px(x) + 4 * GLYPH * this.f + 4 <= this.left + this.width + 1.6 * this.f;
    text.cmOutside = outside;
    text.cmEnd = [x, y];
    text.setAttribute("text-anchor", outside ? "start" : family && !leaves ? "end" : "middle");
    text.setAttribute("x", outside ? this.px(x) + 4 : Math.min(this.px(x), this.left + this.width - 4));
    if (family) text.setAttribute("y", leaves ? this.top - 0.4 * this.f : this.py(y) - 5);
    else text.setAttribute("y", this.py(y) + (ABOVE.includes(stroke) ? -0.55 : 1.15) * this.f);
    say(text, words);
  }

  // Curves of a family leave the panel side by side, or end one close above the other: keep their
  // labels apart, from right to left and from the foot up.
  spread() {
    const f = this.f;
    const family = [...this.labels.values()].filter((text) => text.cmFamily);
    const above = family.filter((text) => text.cmLeaves)
      .sort((a, b) => Number(b.getAttribute("x")) - Number(a.getAttribute("x")));
    const beside = family.filter((text) => !text.cmLeaves)
      .sort((a, b) => Number(b.getAttribute("y")) - Number(a.getAttribute("y")));
    let limit = this.left + this.width;
    for (const text of above) {
      const x = Math.min(Number(text.getAttribute("x")), limit);
      text.setAttribute("x", x);
      limit = x - 4.2 * GLYPH * f;
    }
    let start = this.left;
    for (const text of [...above].reverse()) {
      const x = Math.max(Number(text.getAttribute("x")), start);
      text.setAttribute("x", x);
      start = x + 4.2 * GLYPH * f;
    }
    const taken = [];
    for (const text of beside) {
      if (!text.cmOutside) this.alongItsCurve(text, taken);
    }
    let foot = this.top + this.height - 2;
    for (const text of beside) {
      if (!text.cmOutside) {
        foot = Math.min(foot, Number(text.getAttribute("y")) - 1.1 * f);
        continue;
      }
      const y = Math.min(Number(text.getAttribute("y")), foot);
      text.setAttribute("y", y);
      foot = y - 1.1 * f;
    }
    if (!this.familyName) this.familyName = make("text", { class: "cm-label" }, this.words);
    let [x, y, anchor] = [limit + 1.6 * GLYPH * f, this.top - 0.4 * f, "end"];
    if (!above.length && beside.length) [x, y] = [this.left + this.width, foot];
    // No room left of the first number: right of the last one there is.
    else if (above.length && x - FAMILY.length * GLYPH * f < this.left) {
      [x, anchor] = [Number(above[0].getAttribute("x")) + 2.6 * GLYPH * f, "start"];
    }
    this.familyName.setAttribute("x", x);
    this.familyName.setAttribute("y", y);
    this.familyName.setAttribute("text-anchor", anchor);
    say(this.familyName, family.length ? FAMILY : "");
  }

  // A curve that ends inside the panel: its number stands over it where it is on no upright line, no
  // mark and no other number. Torque absorbed goes with the square of speed, so the place is known.
  alongItsCurve(text, taken) {
    const f = this.f;
    const [endX, endY] = text.cmEnd;
    const wide = text.textContent.length * GLYPH * f;
    const uprights = this.panel.guides.map(([x]) => this.px(x));
    const marks = this.panel.marks.map((mark) => [this.px(mark[4]), this.py(mark[5])]);
    const start = Math.min(this.px(endX), this.left + this.width) - 4;
    for (let right = start; right - wide > this.left; right -= 4) {
      const share = (this.xr[0] + ((right - this.left) * (this.xr[1] - this.xr[0])) / this.width) / endX;
      const y = this.py(endY * share * share) - 5;
      const clear = !uprights.some((at) => at > right - wide - 4 && at < right + 4)
        && !marks.some(([mx, my]) => mx > right - wide - 9 && mx < right + 9 && my > y - f - 8 && my < y + 8)
        && !taken.some(([tr, tw, ty]) => tr - tw < right && right - wide < tr && Math.abs(ty - y) < 1.1 * f);
      if (!clear) continue;
      text.setAttribute("x", right);
      text.setAttribute("y", y);
      taken.push([right, wide, y]);
      return;
    }
  }

  marks(marks) {
    const seen = new Set();
    for (const [id, side, name, , x, y] of marks) {
      seen.add(id);
      let shape = this.points.get(id);
      if (!shape) {
        shape = make("path", { d: outline(name), class: `cm-mark-${side}`, "data-mark": id }, this.words);
        this.points.set(id, shape);
      }
      shape.setAttribute("transform", `translate(${this.px(x).toFixed(1)},${this.py(y).toFixed(1)})`);
    }
    this.keep(this.points, seen);
  }
}

// The named points in words, above all panels, each with its mark.
class Heading {
  constructor(svg) {
    this.group = make("g", { class: "cm-heading" }, svg);
    this.rows = [];
  }

  draw(marks, plan) {
    while (this.rows.length < marks.length) {
      const shape = make("path", {}, this.group);
      this.rows.push([shape, make("text", { class: "cm-point" }, this.group)]);
    }
    this.rows.forEach(([shape, text], i) => {
      const there = i < marks.length;
      shape.style.display = there && marks[i][0] ? "" : "none";
      text.style.display = there ? "" : "none";
      if (!there) return;
      const [, side, name] = marks[i];
      // In two columns each side has its own.
      const down = plan.columns === 2 && marks[0][1] !== marks[marks.length - 1][1];
      const column = down ? Number(side !== marks[0][1]) : i % plan.columns;
      const row = down ? i - column * marks.findIndex((mark) => mark[1] === side) : Math.floor(i / plan.columns);
      const x = column * plan.longest;
      const y = 1.45 * plan.f * (row + 0.9);
      shape.setAttribute("d", outline(name));
      shape.setAttribute("class", `cm-mark-${side}`);
      shape.setAttribute("transform", `translate(${x + 9},${y - 0.36 * plan.f})`);
      text.setAttribute("x", x + 20);
      text.setAttribute("y", y);
      say(text, heading(marks[i]));
    });
  }
}

function heading([, side, name, words]) {
  return `${side.toUpperCase()} ${name}: ${words}`;
}

function table(root, frame) {
  const two = frame.figures.length > 0 && frame.two;
  const rows = root.tBodies[0].rows;
  (two ? HEAD_OF_TWO : HEAD).forEach((words, i) => {
    say(root.tHead.rows[0].cells[i], words);
    root.tHead.rows[0].cells[i].hidden = !two && (i === 2 || i === 3);
  });
  while (rows.length < frame.figures.length) {
    const row = root.tBodies[0].insertRow();
    html("th", "", row).scope = "row";
    for (let i = 0; i < 4; i += 1) row.insertCell();
  }
  while (rows.length > frame.figures.length) root.tBodies[0].deleteRow(-1);
  frame.figures.forEach(([name, unit, a, b, difference], i) => {
    const cells = rows[i].cells;
    [name, a, b, difference, unit].forEach((text, j) => {
      say(cells[j], text);
      cells[j].hidden = !two && (j === 2 || j === 3);
    });
  });
}

// A slider's handle has no name of its own: a screen reader would say only its number.
function nameSliders(el) {
  const box = el.closest(".cm-app");
  if (!box) return;
  for (const slider of box.querySelectorAll(".widget-slider")) {
    const words = slider.querySelector("label");
    const handle = slider.querySelector(".noUi-handle");
    const readout = slider.querySelector(".widget-readout");
    if (!words || !handle) continue;
    handle.setAttribute("aria-label", words.textContent);
    if (readout) readout.setAttribute("aria-label", `${words.textContent}, typed`);
  }
}

// Which of several buttons is pressed is seen by its colour alone.
function sayPressed(el) {
  const box = el.closest(".cm-app");
  if (!box) return;
  for (const button of box.querySelectorAll(".widget-toggle-button")) {
    button.setAttribute("aria-pressed", String(button.classList.contains("mod-active")));
  }
}

// Who is who, above the picture: which machine, which lines.
function nameBoth(root, who) {
  while (root.children.length > who.length) root.lastChild.remove();
  who.forEach(([side, role, words], i) => {
    const line = root.children[i] ?? html("p", "", root);
    if (!line.firstChild) {
      html("b", "", line);
      html("span", "", line);
    }
    say(line.firstChild, role ? `${side}, ${role}: ` : `${side}: `);
    say(line.lastChild, words);
    line.title = words;
  });
}

let made = 0;

function render({ model, el }) {
  made += 1;
  const root = html("div", "cm-bench", el);
  const who = html("div", "cm-who", root);
  const svg = make("svg", { role: "img", class: "cm-picture", "aria-labelledby": `cm-title-${made}`, "aria-describedby": `cm-desc-${made}` }, root);
  make("title", { id: `cm-title-${made}` }, svg).textContent = "Engine or motor and converter together: torque over the speed of the prime mover; turbine torque, efficiency and heat over turbine speed";
  const description = make("desc", { id: `cm-desc-${made}` }, svg);
  const look = model.get("look");
  const top = new Heading(svg);
  const panels = {};
  for (const id of ["engine", "torque", "efficiency", "heat"]) panels[id] = new PanelView(svg, id, look);
  const key = html("p", "cm-key", root);
  const below = html("div", "cm-below", root);
  const figures = html("table", "cm-figures", below);
  html("caption", "", figures, "Key figures");
  const head = figures.createTHead().insertRow();
  for (let i = 0; i < HEAD.length; i += 1) html("th", "", head).scope = "col";
  figures.createTBody();
  const notes = html("div", "cm-notes", below);
  notes.setAttribute("role", "status");
  notes.setAttribute("aria-live", "polite");
  let notesKey = "";
  let planKey = "";
  let plan = null;
  let waiting = 0;

  function draw() {
    waiting = 0;
    const frame = model.get("frame");
    const width = Math.floor(el.clientWidth);
    if (!frame || !frame.figures || width < 50) return;
    const scale = frame.font_scale;
    const low = scale > 1 && window.innerHeight < LOW_SCREEN;
    const problem = frame.panels.length === 0;
    svg.classList.toggle("cm-absent", problem);
    if (!problem) {
      // A point that is not there is named with its reason, and has no mark.
      const marks = [...frame.absent.map((point) => ["", ...point]), ...frame.panels[0].marks]
        .sort((one, other) => one[1].localeCompare(other[1]));
      const words = marks.map(heading);
      // The longest words decide the columns; a digit more or less must not move the picture.
      const wanted = `${width}|${scale}|${low}|${words.length}|${Math.ceil(Math.max(0, ...words.map((w) => w.length)) / 4)}`;
      if (wanted !== planKey) {
        planKey = wanted;
        root.style.setProperty("--cm-scale", scale);
        plan = layout(width, scale, words, low);
        svg.setAttribute("width", width);
        svg.setAttribute("height", plan.height);
        for (const [id, panel] of Object.entries(panels)) panel.place(plan.places[id], plan.f);
      }
      top.draw(marks, plan);
      const view = frame.numbers;
      const numbers = new Float32Array(view.buffer.slice(view.byteOffset, view.byteOffset + view.byteLength));
      for (const panel of frame.panels) panels[panel.id].draw(panel, numbers);
    }
    key.hidden = problem;
    const shaded = frame.panels.some((panel) => panel.band) ? "Shaded: efficiency of A at least 80 %." : "";
    say(key, (frame.two ? "A: unbroken lines, filled marks. B: broken lines, hollow marks. " : "") + shaded);
    nameBoth(who, frame.who);
    say(description, frame.alt);
    table(figures, frame);
    const said = JSON.stringify(frame.notes);
    if (said !== notesKey) {
      notesKey = said;
      notes.replaceChildren();
      for (const [side, kind, words] of frame.notes) {
        const line = html("p", `cm-note cm-${kind}`, notes);
        // What the bench answers needs no word before it.
        if (kind !== "message") html("b", "", line, side ? `${side} ${kind}: ` : `${kind}: `);
        line.appendChild(document.createTextNode(words));
      }
    }
    nameSliders(el);
    sayPressed(el);
    if (model.get("room") !== window.innerHeight) {
      model.set("room", window.innerHeight);
      model.save_changes();
    }
    root.dataset.frame = frame.count;
  }

  // One drawing a screen frame, of the newest message: a slow screen skips, it does not fall behind.
  // It also lets the slider send its next value while this one is being painted.
  function soon() {
    if (!waiting) waiting = requestAnimationFrame(draw);
  }

  const pressedSoon = () => setTimeout(() => sayPressed(el), 0);
  const box = el.closest(".cm-app");
  box?.addEventListener("click", pressedSoon);
  window.addEventListener("resize", soon);
  const watch = new ResizeObserver(soon);
  watch.observe(el);
  soon();
  model.on("change:frame", soon);
  return () => {
    watch.disconnect();
    box?.removeEventListener("click", pressedSoon);
    window.removeEventListener("resize", soon);
    cancelAnimationFrame(waiting);
    model.off("change:frame", soon);
  };
}

export default { render };
