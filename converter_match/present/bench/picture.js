// Draws the match picture from one message: plain data and a block of float32 pairs.
// Elements are made once and then only moved, so that a held key keeps up with the kernel.

const NS = "http://www.w3.org/2000/svg";
const WIDTH = 1180;
const HEIGHT = 470;
// Left, top, width and height of each panel's axes.
const PLACES = {
  engine: [62, 34, 520, 384],
  torque: [660, 34, 505, 150],
  efficiency: [660, 224, 505, 72],
  heat: [660, 336, 505, 82],
};

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

class PanelView {
  constructor(svg, id, look) {
    this.id = id;
    this.look = look;
    [this.left, this.top, this.width, this.height] = PLACES[id];
    this.group = make("g", { "data-panel": id }, svg);
    const clip = make("clipPath", { id: `cm-clip-${id}-${Math.random().toString(36).slice(2)}` }, this.group);
    make("rect", { x: this.left, y: this.top, width: this.width, height: this.height }, clip);
    this.band = make("rect", { class: "cm-band", y: this.top, height: this.height, width: 0, x: this.left }, this.group);
    this.grid = make("g", { class: "cm-grid" }, this.group);
    this.guides = make("g", { class: "cm-guides" }, this.group);
    this.curves = make("g", { "clip-path": `url(#${clip.id})` }, this.group);
    this.words = make("g", { class: "cm-words" }, this.group);
    this.title = make("text", { class: "cm-axis", x: this.left, y: this.top - 10 }, this.group);
    this.xName = make("text", { class: "cm-axis", x: this.left + this.width, y: this.top + this.height + 32, "text-anchor": "end" }, this.group);
    this.lines = new Map();
    this.labels = new Map();
    this.points = new Map();
    this.axisKey = "";
  }

  px(x) { return this.left + (this.width * (x - this.xr[0])) / (this.xr[1] - this.xr[0]); }

  py(y) { return this.top + this.height - (this.height * (y - this.yr[0])) / (this.yr[1] - this.yr[0]); }

  axes(panel) {
    const key = JSON.stringify([panel.xr, panel.yr, panel.x, panel.y, panel.guides]);
    if (key === this.axisKey) return;
    this.axisKey = key;
    this.grid.replaceChildren();
    this.guides.replaceChildren();
    const bottom = this.top + this.height;
    const showX = this.id === "engine" || this.id === "heat";
    for (const x of panel.xt) {
      make("line", { x1: this.px(x), x2: this.px(x), y1: this.top, y2: bottom }, this.grid);
      if (showX) make("text", { class: "cm-tick", x: this.px(x), y: bottom + 16, "text-anchor": "middle" }, this.grid).textContent = x;
    }
    const yt = this.height < 100 ? panel.yt.filter((_, i) => i % 2 === 0) : panel.yt;
    for (const y of yt) {
      make("line", { x1: this.left, x2: this.left + this.width, y1: this.py(y), y2: this.py(y) }, this.grid);
      make("text", { class: "cm-tick", x: this.left - 7, y: this.py(y) + 4, "text-anchor": "end" }, this.grid).textContent = y;
    }
    make("path", { class: "cm-frame", d: `M${this.left},${this.top}V${bottom}H${this.left + this.width}` }, this.grid);
    for (const [x, name] of panel.guides) {
      const at = this.px(x);
      make("line", { x1: at, x2: at, y1: this.top, y2: bottom }, this.guides);
      make("text", { class: "cm-guide", transform: `translate(${at - 4},${bottom - 6}) rotate(-90)` }, this.guides).textContent = name;
    }
    this.title.textContent = panel.y;
    this.xName.textContent = showX ? panel.x : "";
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
        path = make("path", { fill: "none", stroke: color, "stroke-width": width, "stroke-linejoin": "round", "data-line": id }, this.curves);
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
        d += pen + this.px(x).toFixed(1) + "," + this.py(y).toFixed(1);
        pen = "L";
      }
      path.setAttribute("d", d);
      if (label && side === "a") {
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
      text = make("text", { class: "cm-label", fill: this.look[stroke][0] }, this.words);
      this.labels.set(id, text);
    }
    const family = stroke === "absorbed";
    text.setAttribute("text-anchor", family ? "middle" : "end");
    text.setAttribute("x", this.px(x) - (family ? 0 : 6));
    text.setAttribute("y", family ? Math.max(this.py(y) - 4, this.top + 12) : this.py(y));
    text.textContent = words;
  }

  // Labels of a family of curves leave the panel side by side: keep them apart, from right to left.
  spread() {
    const family = [...this.labels].filter(([id]) => id.includes("/absorbed-")).map(([, text]) => text)
      .filter((text) => Number(text.getAttribute("y")) < this.top + 20)
      .sort((a, b) => Number(b.getAttribute("x")) - Number(a.getAttribute("x")));
    let limit = this.left + this.width - 8;
    for (const text of family) {
      const x = Math.min(Number(text.getAttribute("x")), limit);
      text.setAttribute("x", x);
      limit = x - 27;
    }
    if (!family.length) return;
    if (!this.familyName) this.familyName = make("text", { class: "cm-label", "text-anchor": "end" }, this.words);
    this.familyName.setAttribute("x", limit + 6);
    this.familyName.setAttribute("y", this.top + 12);
    this.familyName.textContent = "speed ratio";
  }

  marks(marks) {
    const seen = new Set();
    let row = 0;
    for (const [id, side, name, words, x, y] of marks) {
      seen.add(id);
      let group = this.points.get(id);
      if (!group) {
        group = make("g", { "data-mark": id }, this.words);
        make("circle", { r: 5, class: side === "a" ? "cm-mark-a" : "cm-mark-b" }, group);
        make("line", { class: "cm-leader" }, group);
        make("text", { class: "cm-point" }, group);
        this.points.set(id, group);
      }
      const cx = this.px(x);
      const cy = this.py(y);
      const [circle, leader, text] = group.children;
      circle.setAttribute("cx", cx);
      circle.setAttribute("cy", cy);
      // Words stand in rows at a fixed place of the panel: they never cover each other.
      const room = this.id === "engine" ? [this.left + 12, this.top + 14] : [this.left + this.width - 300, this.top + 12];
      const ty = room[1] + 15 * row;
      if (this.id === "heat" && name !== "stall") {
        group.setAttribute("class", "cm-quiet");
      }
      text.setAttribute("x", room[0]);
      text.setAttribute("y", ty);
      text.textContent = `${side.toUpperCase()} ${name}: ${words}`;
      leader.setAttribute("x1", cx);
      leader.setAttribute("y1", cy);
      leader.setAttribute("x2", cx);
      leader.setAttribute("y2", cy);
      if (!(this.id === "heat" && name !== "stall")) row += 1;
    }
    this.keep(this.points, seen);
  }
}

function table(root, frame) {
  const two = frame.figures.length && frame.figures[0][3] !== "";
  const body = frame.figures
    .map(([name, unit, a, b, difference]) => [name, a, ...(two ? [b, difference] : []), unit]);
  const rows = root.tBodies[0].rows;
  root.tHead.rows[0].cells[2].hidden = !two;
  root.tHead.rows[0].cells[3].hidden = !two;
  while (rows.length < body.length) {
    const row = root.tBodies[0].insertRow();
    const head = document.createElement("th");
    head.scope = "row";
    row.appendChild(head);
    for (let i = 0; i < 4; i += 1) row.insertCell();
  }
  while (rows.length > body.length) root.tBodies[0].deleteRow(-1);
  frame.figures.forEach(([name, unit, a, b, difference], i) => {
    const cells = rows[i].cells;
    [name, a, b, difference, unit].forEach((text, j) => {
      if (cells[j].textContent !== text) cells[j].textContent = text;
      cells[j].hidden = !two && (j === 2 || j === 3);
    });
  });
}

function render({ model, el }) {
  const root = html("div", "cm-bench", el);
  const svg = make("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", class: "cm-picture" }, root);
  const description = make("title", {}, svg);
  const look = model.get("look");
  const panels = {};
  for (const id of Object.keys(PLACES)) panels[id] = new PanelView(svg, id, look);
  const below = html("div", "cm-below", root);
  const figures = html("table", "cm-figures", below);
  const head = figures.createTHead().insertRow();
  for (const name of ["key figure", "A", "B", "B − A", "unit"]) {
    const cell = html("th", "", head, name);
    cell.scope = "col";
  }
  figures.createTBody();
  const notes = html("div", "cm-notes", below);
  notes.setAttribute("role", "status");
  notes.setAttribute("aria-live", "polite");
  let notesKey = "";

  function draw() {
    const frame = model.get("frame");
    if (!frame || !frame.figures) return;
    root.style.setProperty("--cm-scale", frame.font_scale);
    const problem = frame.panels.length === 0;
    svg.classList.toggle("cm-absent", problem);
    if (!problem) {
      const view = frame.numbers;
      const numbers = new Float32Array(view.buffer.slice(view.byteOffset, view.byteOffset + view.byteLength));
      for (const panel of frame.panels) panels[panel.id].draw(panel, numbers);
    }
    if (description.textContent !== frame.alt) description.textContent = frame.alt;
    table(figures, frame);
    const key = JSON.stringify(frame.notes);
    if (key !== notesKey) {
      notesKey = key;
      notes.replaceChildren();
      for (const [side, kind, words] of frame.notes) {
        const line = html("p", `cm-note cm-${kind}`, notes);
        html("b", "", line, side ? `${side} ${kind}: ` : `${kind}: `);
        line.appendChild(document.createTextNode(words));
      }
    }
    root.dataset.frame = frame.count;
  }

  draw();
  model.on("change:frame", draw);
  return () => model.off("change:frame", draw);
}

export default { render };
