const SEED = "#12365f", LIGHT = "#ffffff", DARK = "#1d1d1b", FRUIT = "#8e0f6b";
const little = new Uint8Array(new Uint32Array([1]).buffer)[0] === 1;
const shade = (hex) => {
  const [r, g, b] = [1, 3, 5].map((at) => parseInt(hex.slice(at, at + 2), 16));
  return little ? ((255 << 24) | (b << 16) | (g << 8) | r) >>> 0 : ((r << 24) | (g << 16) | (b << 8) | 255) >>> 0;
};
const MAT = ["#ece5d6", "#b5c9a4", "#7ea36f", "#3f6f4a"].map(shade);
const BARRIER = shade("#b9c3cd"), WORK = shade("#f6d97a");
// open ground to closed canopy, all light enough for the marks
const GROUND = ["#f3eee2", "#efe9db", "#e9e2d1", "#e2dbc7"].map(shade);

// A map: one pixel a cell behind, enlarged without smoothing, marks above it.
class Map2D {
  constructor(canvas, site) {
    this.canvas = canvas;
    this.site = site;
    this.behind = document.createElement("canvas");
    this.behind.width = site.nx;
    this.behind.height = site.ny;
    this.paint = this.behind.getContext("2d");
    this.image = this.paint.createImageData(site.nx, site.ny);
    this.pixels = new Uint32Array(this.image.data.buffer);
    this.bare = Uint32Array.from(site.ground, (code) => (code === 255 ? BARRIER : GROUND[code >> 2]));
    this.context = canvas.getContext("2d");
    this.fit();
  }

  fit() {
    // as wide as there is room, and no higher than leaves the time bar in sight
    const narrow = innerWidth <= 760;
    const high = narrow ? 0.6 * innerHeight : Math.max(260, innerHeight - 405);
    const room = this.canvas.parentElement.clientWidth - 6;
    const wide = Math.floor(Math.max(40, Math.min(room, (high * this.site.nx) / this.site.ny)));
    this.canvas.style.width = `${wide + 6}px`;
    const ratio = Math.min(2, window.devicePixelRatio || 1);
    const width = Math.round(wide * ratio);
    const height = Math.round((width * this.site.ny) / this.site.nx);
    this.scale = width / this.site.nx;
    this.mark = Math.max(4.5, Math.min(9, wide / 75)) * ratio;
    if (this.canvas.width !== width || this.canvas.height !== height) {
      this.canvas.width = width;
      this.canvas.height = height;
    }
    this.sprites = [triangle, diamond].map((shape) => sprite(shape, this.mark));
    this.lower = document.createElement("canvas");
    this.lower.width = width;
    this.lower.height = height;
    this.under = this.lower.getContext("2d");
  }

  // Once a season: ground and hosts; what flies comes on top of it in every frame.
  settle(world, hidden) {
    const { cells, hosts, run, step } = world;
    const { nx, hostX, hostY } = this.site;
    const pixels = this.pixels;
    for (let c = 0; c < cells.length; c++) {
      const level = cells[c] & 3;
      let colour = level ? MAT[level] : this.bare[c];
      if (hidden && cells[c] & UNKNOWN_CELL) colour = (c + ((c / nx) | 0)) & 1 ? MAT[0] : MAT[3];
      pixels[c] = colour;
    }
    const { starts, places } = run.work;
    for (let i = starts[step]; i < starts[step + 1]; i++) pixels[places[i]] = WORK;
    this.paint.putImageData(this.image, 0, 0);
    const under = this.under;
    under.imageSmoothingEnabled = false;
    under.drawImage(this.behind, 0, 0, this.lower.width, this.lower.height);
    for (const wanted of [CLIMBING, FRUITING]) {
      const image = this.sprites[wanted === FRUITING ? 1 : 0];
      for (let j = 0; j < hosts.length; j++) {
        if ((hosts[j] & 7) !== wanted) continue;
        const x = hostX[j] * this.scale, y = hostY[j] * this.scale;
        under.drawImage(image, x - image.width / 2, y - image.height / 2);
        if (hidden && hosts[j] & UNKNOWN_HOST) ring(under, x, y, this.mark * 1.35, DARK, [3, 3]);
      }
    }
    const met = run.handled;
    for (let i = met.starts[step]; i < met.starts[step + 1]; i++) {
      const found = met.codes[i] & FOUND;
      if (met.codes[i] & WORKED || (found && hidden)) {
        ring(under, hostX[met.places[i]] * this.scale, hostY[met.places[i]] * this.scale, this.mark * 1.2, DARK, []);
      }
    }
    this.sown(run.seeds, step);
  }

  // Seeds that took root in this season.
  sown(seeds, step) {
    const arm = this.mark * 1.1;
    for (let i = 0; i < seeds.landed.length && seeds.landed[i] <= step; i++) {
      if (seeds.fates[i] !== ROOTED || seeds.ended[i] !== step) continue;
      const [x, y] = this.middle(seeds.cells[i]);
      for (const [colour, wide] of [[LIGHT, 0.9], [SEED, 0.45]]) {
        const under = this.under;
        under.strokeStyle = colour;
        under.lineWidth = this.mark * wide;
        under.beginPath();
        under.moveTo(x - arm, y);
        under.lineTo(x + arm, y);
        under.moveTo(x, y - arm);
        under.lineTo(x, y + arm);
        under.stroke();
      }
    }
  }

  // One frame; part is how much of the season has gone, 1 shows seeds where they land.
  frame(world, part) {
    const context = this.context;
    context.drawImage(this.lower, 0, 0);
    const seeds = world.run.seeds;
    const [from, to] = span(seeds.landed, world.step);
    for (let i = from; i < to; i++) {
      const [x, y] = this.middle(seeds.cells[i]);
      const [x0, y0] = seeds.sources[i] ? this.host(seeds.sources[i] - 1) : this.edge(x, y);
      const lift = Math.sin(Math.PI * part) * Math.min(40, Math.abs(x - x0) / 3 + 8);
      context.beginPath();
      context.arc(x0 + (x - x0) * part, y0 + (y - y0) * part - lift, this.mark * 0.62, 0, 7);
      context.fillStyle = SEED;
      context.fill();
      context.lineWidth = this.mark * 0.25;
      context.strokeStyle = LIGHT;
      context.stroke();
    }
  }

  middle(cell) {
    const { nx } = this.site;
    return [((cell % nx) + 0.5) * this.scale, (Math.floor(cell / nx) + 0.5) * this.scale];
  }

  host(j) {
    return [this.site.hostX[j] * this.scale, this.site.hostY[j] * this.scale];
  }

  // Where seed from outside comes in: over the nearest edge.
  edge(x, y) {
    const { width, height } = this.canvas;
    const ways = [[x, [0, y]], [width - x, [width, y]], [y, [x, 0]], [height - y, [x, height]]];
    return ways.reduce((least, way) => (way[0] < least[0] ? way : least))[1];
  }
}

// Places in a sorted list where a value begins and ends.
function span(list, value) {
  const bound = (wanted) => {
    let low = 0, high = list.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (list[middle] < wanted) low = middle + 1;
      else high = middle;
    }
    return low;
  };
  return [bound(value), bound(value + 1)];
}

function sprite(shape, size) {
  const canvas = document.createElement("canvas");
  canvas.width = canvas.height = Math.ceil(size * 3);
  const context = canvas.getContext("2d");
  context.translate(canvas.width / 2, canvas.height / 2);
  context.lineJoin = "round";
  shape(context, size);
  return canvas;
}

function triangle(context, size) {
  const path = new Path2D(`M0 ${-0.72 * size}L${0.72 * size} ${0.55 * size}H${-0.72 * size}Z`);
  context.fillStyle = LIGHT;
  context.strokeStyle = DARK;
  context.lineWidth = size * 0.26;
  context.fill(path);
  context.stroke(path);
}

function diamond(context, size) {
  const r = size * 1.05;
  const path = new Path2D(`M0 ${-r}L${r} 0L0 ${r}L${-r} 0Z`);
  context.fillStyle = FRUIT;
  context.strokeStyle = LIGHT;
  context.lineWidth = size * 0.25;
  context.fill(path);
  context.stroke(path);
  context.fillStyle = LIGHT;
  context.beginPath();
  context.arc(0, 0, size * 0.28, 0, 7);
  context.fill();
}

function ring(context, x, y, radius, colour, dashes) {
  context.beginPath();
  context.setLineDash(dashes);
  context.arc(x, y, radius, 0, 7);
  context.lineWidth = Math.max(1.5, radius * 0.16);
  context.strokeStyle = colour;
  context.stroke();
  context.setLineDash([]);
}
