const SVG = "http://www.w3.org/2000/svg";
const round = (value) => Math.round(value).toLocaleString("en");

function draw(parent, name, attributes, text) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== undefined) element.textContent = text;
  parent.append(element);
  return element;
}

// The end of an axis: 1, 2 or 5 times a power of ten, or half as much again.
function roundUp(value) {
  const power = 10 ** Math.floor(Math.log10(Math.max(value, 1)));
  return [1, 1.5, 2, 3, 5, 7.5, 10].find((factor) => factor * power >= value) * power;
}

// Two lines up to the season at hand: left whole, right dashed; averages of all runs thin.
class Chart {
  constructor(svg, title) {
    this.svg = svg;
    this.title = title;
  }

  show(name, unit, lines, steps, first) {
    this.title.textContent = unit ? `${name}, ${unit}` : name;
    this.svg.replaceChildren();
    const width = Math.max(160, this.svg.clientWidth), height = Math.max(90, this.svg.clientHeight);
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    const box = { left: 8, right: width - 80, top: 16, bottom: height - 22 };
    const top = roundUp(Math.max(1, ...lines.flatMap((line) => [...line.values.slice(0, steps + 1), ...(line.mean || [])])));
    this.x = (step) => box.left + ((box.right - box.left) * step) / steps;
    this.y = (value) => box.bottom - ((box.bottom - box.top) * value) / top;
    draw(this.svg, "path", { d: `M${box.left} ${box.top}V${box.bottom}H${box.right}`, stroke: "#1d1d1b", fill: "none" });
    draw(this.svg, "path", { d: `M${box.left} ${box.top}H${box.right}`, stroke: "#c9c3b4", fill: "none" });
    draw(this.svg, "text", { x: box.left, y: box.top - 4 }, round(top));
    draw(this.svg, "text", { x: box.left, y: height - 5 }, "start");
    draw(this.svg, "text", { x: box.right, y: height - 5, "text-anchor": "end" }, `year ${first + steps / 4}`);
    this.cursor = draw(this.svg, "path", { stroke: "#8b867a", "stroke-width": 1, fill: "none" });
    this.box = box;
    this.lines = lines.map((line) => {
      const look = { stroke: line.colour, fill: "none", "stroke-dasharray": line.dashed ? "7 4" : "none" };
      if (line.mean) {
        const d = line.mean.slice(0, steps / 4 + 1).map((v, year) => `${year ? "L" : "M"}${this.x(4 * year)} ${this.y(v)}`);
        draw(this.svg, "path", { ...look, d: d.join(""), "stroke-width": 1.4 });
      }
      return {
        ...line,
        path: draw(this.svg, "path", { ...look, "stroke-width": 3.5, "stroke-linejoin": "round" }),
        label: draw(this.svg, "text", { class: "told", "dominant-baseline": "middle" }),
      };
    });
  }

  at(step) {
    const d = (values) => Array.from({ length: step + 1 }, (_, t) => `${t ? "L" : "M"}${this.x(t).toFixed(1)} ${this.y(values[t]).toFixed(1)}`);
    const ys = this.lines.map((line) => this.y(line.values[step]));
    if (Math.abs(ys[0] - ys[1]) < 16) {
      const high = ys[0] <= ys[1] ? 0 : 1;
      const middle = Math.min(Math.max((ys[0] + ys[1]) / 2, this.box.top + 8), this.box.bottom - 8);
      ys[high] = middle - 8;
      ys[1 - high] = middle + 8;
    }
    this.cursor.setAttribute("d", `M${this.x(step)} ${this.box.top}V${this.box.bottom}`);
    this.lines.forEach((line, i) => {
      line.path.setAttribute("d", d(line.values).join(""));
      line.label.setAttribute("x", this.x(step) + 6);
      line.label.setAttribute("y", ys[i]);
      line.label.setAttribute("fill", line.colour);
      line.label.textContent = `${line.side} ${round(line.values[step])}`;
    });
    const told = this.lines.map((line) => `${line.name} ${round(line.values[step])}`).join(", ");
    this.svg.setAttribute("aria-label", `${this.title.textContent}: ${told}`);
  }
}
