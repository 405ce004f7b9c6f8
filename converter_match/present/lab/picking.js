// Shows a chart and keeps a list of marks. A click sets one, a click on a mark of the same kind chooses it; arrow keys
// move the chosen one by a pixel (with Shift by ten), Delete takes it away. What was followed between
// two ends is drawn over the chart. Pixels are those of the picture, not of the screen.

const NS = "http://www.w3.org/2000/svg";
const COLOURS = { x: "#10203a", axis: "#7d1d54", point: "#c84a27", trace: "#0c6580" };

function add(kind, parent, attributes = {}, text) {
  const element = document.createElement(kind);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  if (text !== undefined) element.textContent = text;
  parent.appendChild(element);
  return element;
}

function render({ model, el }) {
  const [width, height] = model.get("size");
  const bar = add("div", el, { style: "display:flex;gap:0.8em;flex-wrap:wrap;margin-bottom:0.4em" });
  const whatLabel = add("label", bar, {}, "A click is ");
  const what = add("select", whatLabel);
  for (const [key, words] of model.get("choices")) add("option", what, { value: key }, words);
  const valueLabel = add("label", bar, {}, "with the value ");
  const value = add("input", valueLabel, { type: "number", step: "any", value: "0", style: "width:7em" });
  const undo = add("button", bar, { type: "button" }, "take the mark away");
  const nearer = add("button", bar, { type: "button", "aria-label": "larger" }, "+");
  const farther = add("button", bar, { type: "button", "aria-label": "smaller" }, "−");
  const said = add("span", bar, { role: "status", "aria-live": "polite" });

  const window_ = add("div", el, { style: "overflow:auto;max-width:100%;max-height:80vh" });
  const frame = add("div", window_, { style: "position:relative" });
  let zoom = 1;
  let chosen = model.get("marks").length - 1;
  function size() {
    frame.style.maxWidth = zoom === 1 ? "100%" : "none";
    frame.style.width = `${width * zoom}px`;
  }
  size();
  add("img", frame, { src: model.get("picture"), alt: "the chart", style: "width:100%;display:block" });
  const svg = document.createElementNS(NS, "svg");
  svg.setAttribute("viewBox", `-0.5 -0.5 ${width} ${height}`);
  svg.setAttribute("style", "position:absolute;inset:0;width:100%;height:100%;cursor:crosshair");
  svg.setAttribute("tabindex", "0");
  svg.setAttribute("role", "application");
  svg.setAttribute("aria-label", "Chart. Enter sets a mark in the middle; arrow keys move the last mark.");
  frame.appendChild(svg);

  function draw() {
    svg.replaceChildren();
    for (const path of model.get("paths")) {
      const line = document.createElementNS(NS, "polyline");
      line.setAttribute("points", path.map((place) => place.join(",")).join(" "));
      line.setAttribute("fill", "none");
      line.setAttribute("stroke", "#0b3d91");
      line.setAttribute("stroke-width", "2");
      line.setAttribute("stroke-dasharray", "7 3");
      svg.appendChild(line);
    }
    for (const [number, mark] of model.get("marks").entries()) {
      const [u, v] = mark.pixel;
      const cross = document.createElementNS(NS, "path");
      cross.setAttribute("d", `M${u - 8},${v}H${u + 8}M${u},${v - 8}V${v + 8}`);
      cross.setAttribute("stroke", COLOURS[mark.what.split(":")[0]]);
      cross.setAttribute("stroke-width", number === chosen ? "3" : "1.5");
      svg.appendChild(cross);
    }
    const onAxis = what.value === "x" || what.value.startsWith("axis");
    valueLabel.style.visibility = onAxis ? "visible" : "hidden";
  }

  function keep(marks, words) {
    model.set("marks", marks);
    model.save_changes();
    said.textContent = words;
    draw();
  }

  function set(pixel) {
    const onAxis = what.value === "x" || what.value.startsWith("axis");
    const number = Number(value.value);
    if (onAxis && (value.value === "" || !Number.isFinite(number))) {
      said.textContent = "type the number that stands at this place of the axis first";
      return;
    }
    const mark = { what: what.value, pixel };
    if (onAxis) mark.value = number;
    chosen = model.get("marks").length;
    keep([...model.get("marks"), mark], `mark ${model.get("marks").length + 1} at ${pixel.join(", ")}`);
  }

  svg.addEventListener("click", (event) => {
    const box = svg.getBoundingClientRect();
    const u = ((event.clientX - box.left) / box.width) * width - 0.5;
    const v = ((event.clientY - box.top) / box.height) * height - 0.5;
    const reach = (6 * width) / box.width;
    const near = model.get("marks").findIndex(
      (mark) =>
        mark.what === what.value && Math.hypot(mark.pixel[0] - u, mark.pixel[1] - v) < reach,
    );
    if (near >= 0 && !event.shiftKey) {
      chosen = near;
      said.textContent = `mark ${near + 1} is chosen; with Shift a click sets another here`;
      draw();
    } else set([Math.round(u * 10) / 10, Math.round(v * 10) / 10]);
    svg.focus();
  });
  svg.addEventListener("keydown", (event) => {
    const marks = model.get("marks");
    const steps = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
    if (event.key === "Enter") set([Math.round(width / 2), Math.round(height / 2)]);
    else if (event.key === "Delete" || event.key === "Backspace") {
      remove();
    } else if (steps[event.key] && marks.length) {
      const by = event.shiftKey ? 10 : 1;
      const at = marks[chosen] ? chosen : marks.length - 1;
      const pixel = marks[at].pixel.map((place, side) => place + by * steps[event.key][side]);
      keep(marks.map((mark, n) => (n === at ? { ...mark, pixel } : mark)), `moved to ${pixel.join(", ")}`);
    } else return;
    event.preventDefault();
    event.stopPropagation();
  });
  function remove() {
    const marks = model.get("marks");
    if (!marks.length) return;
    const at = marks[chosen] ? chosen : marks.length - 1;
    chosen = marks.length - 2;
    const last = at === marks.length - 1;
    keep(marks.filter((_, n) => n !== at), last ? "the last mark was taken away" : `mark ${at + 1} was taken away`);
  }
  undo.addEventListener("click", remove);
  nearer.addEventListener("click", () => { zoom = Math.min(zoom * 1.5, 6); size(); });
  farther.addEventListener("click", () => { zoom = Math.max(zoom / 1.5, 1); size(); });
  what.addEventListener("change", draw);
  model.on("change:marks", draw);
  model.on("change:paths", draw);
  draw();
}

export default { render };
