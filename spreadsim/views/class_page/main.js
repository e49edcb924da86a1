const $ = (id) => document.getElementById(id);
const SIDES = [["A", "#12365f", false], ["B", "#8a3b12", true]];

async function start() {
  const parts = await unpack($("film").textContent);
  const about = JSON.parse(new TextDecoder().decode(parts[0]));
  const [hostX, hostY] = [parts[2], parts[3]].map((bytes) => Float32Array.from(numbers(bytes), (value) => value / 16));
  const site = { nx: about.nx, ny: about.ny, ground: parts[1], hostX, hostY };
  const runs = new Map();
  const runFor = (name, luck) => {
    const place = 4 + (about.strategies.indexOf(name) * about.lucks + luck) * PARTS_OF_A_RUN;
    if (!runs.has(place)) runs.set(place, runOf(parts.slice(place, place + PARTS_OF_A_RUN)));
    return runs.get(place);
  };
  new Lesson(about, site, runFor).open(0);
}

class Lesson {
  constructor(about, site, runFor) {
    Object.assign(this, { about, site, runFor, luck: 0, at: 0, playing: false, round: 0 });
    this.worlds = SIDES.map(() => new World(site.nx * site.ny, site.hostX.length));
    this.maps = SIDES.map(([id]) => new Map2D($(id).querySelector("canvas"), site));
    this.charts = ["upper", "lower"].map((id) => new Chart($(`chart-${id}`), $(`${id}-name`)));
    this.votes = new Votes($("ballot"), `votes ${about.made}`);
    this.calm = matchMedia("(prefers-reduced-motion: reduce)").matches;
    this.fillLists();
    this.listen();
  }

  get free() {
    return this.place === this.about.steps.length;
  }

  fillLists() {
    this.tabs = [...this.about.steps.map((step, i) => `${i + 1} ${step.tab}`), "Explore"].map((text, i) => {
      const tab = element(element($("tabs"), "li"), "button", { type: "button", textContent: text });
      tab.addEventListener("click", () => this.open(i));
      return tab;
    });
    for (const id of ["left", "right"]) {
      for (const name of this.about.strategies) element($(id), "option", { value: name, textContent: name });
    }
    for (const id of ["upper", "lower"]) {
      for (const [key, one] of Object.entries(this.about.outcomes)) element($(id), "option", { value: key, textContent: one.name });
    }
  }

  listen() {
    $("play").addEventListener("click", () => this.play(!this.playing));
    $("back").addEventListener("click", () => this.go(this.at - 1));
    $("forth").addEventListener("click", () => this.go(this.at + 1));
    $("time").addEventListener("input", () => this.go(Number($("time").value)));
    $("luck").addEventListener("click", () => this.take((this.luck + 1) % this.about.lucks));
    $("reveal").addEventListener("click", () => this.reveal(!this.shown));
    for (const id of ["left", "right", "upper", "lower"]) $(id).addEventListener("change", () => this.choose());
    for (const id of ["average", "hidden"]) $(id).addEventListener("change", () => this.choose());
    addEventListener("resize", () => {
      for (const map of this.maps) map.fit();
      this.choose();
    });
    addEventListener("keydown", (event) => this.key(event));
  }

  // Keys of the whole page, unless a control has them.
  key(event) {
    if (event.altKey || event.ctrlKey || event.metaKey || event.target.closest("button, select, input, summary")) return;
    const ways = { ArrowLeft: () => this.go(this.at - 1), ArrowRight: () => this.go(this.at + 1), Home: () => this.go(0) };
    ways[" "] = () => this.play(!this.playing);
    if (!(event.key in ways)) return;
    event.preventDefault();
    ways[event.key]();
  }

  open(place) {
    const before = this.step;
    this.place = place;
    this.step = this.about.steps[place];
    this.round = 0;
    this.tabs.forEach((tab, i) => (i === place ? tab.setAttribute("aria-current", "step") : tab.removeAttribute("aria-current")));
    for (const id of ["ballot", "reveal", "watch", "minutes"]) $(id).hidden = this.free;
    $("choices").hidden = !this.free;
    $("cautions").open = !this.free && this.step.key === "home";
    $("question").textContent = this.free ? "Explore: choose what to compare" : this.step.question;
    const last = before || this.about.steps[0];
    const shown = this.step || last || { left: this.about.strategies[0], right: this.about.strategies.at(-1), charts: ["mat_area", "fruiting"] };
    $("left").value = shown.left;
    $("right").value = shown.right;
    [$("upper").value, $("lower").value] = shown.charts;
    if (!this.free) {
      $("average").checked = false;
      $("minutes").textContent = `${this.step.minutes} of 45 minutes`;
      this.ballot(0, false);
    }
    $("hint").textContent = this.free ? "" : this.step.teacher;
    this.years = this.free ? this.about.years : this.step.years;
    this.at = 0;
    this.play(false);
    this.choose();
  }

  ballot(round, focus) {
    this.round = round;
    const same = [];
    for (const other of this.about.steps.slice(0, this.place + 1)) {
      if (other.options.join() !== this.step.options.join()) continue;
      other.rounds.forEach((_, i) => {
        if (other !== this.step || i < round) same.push([other, i]);
      });
    }
    this.votes.show(this.step, round, same, (chosen, focused) => this.ballot(chosen, focused));
    if (focus) $("ballot").querySelectorAll(".rounds button")[round].focus();
  }

  take(luck) {
    this.luck = luck;
    this.play(false);
    this.at = 0;
    this.choose();
  }

  // What the page shows has changed: strategies, luck, charts.
  choose() {
    this.pair = [$("left").value, $("right").value];
    this.hiding = this.free ? $("hidden").checked : this.step.hides;
    $("key-hidden").hidden = !this.hiding;
    this.pair.forEach((name, side) => {
      this.worlds[side].show(this.runFor(name, this.luck));
      $(SIDES[side][0]).querySelector(".name").textContent = name;
    });
    this.charts.forEach((chart, i) => {
      const outcome = $(["upper", "lower"][i]).value;
      const { name, unit } = this.about.outcomes[outcome];
      chart.show(name, unit, this.pair.map((strategy, side) => this.line(strategy, side, outcome)), 4 * this.years, this.about.first);
    });
    $("which").textContent = `${this.luck + 1} of ${this.about.lucks}`;
    $("luck").hidden = this.about.lucks < 2;
    $("time").max = 4 * this.years;
    this.reveal(false);
    this.go(Math.min(this.at, 4 * this.years));
  }

  line(strategy, side, outcome) {
    const [, colour, dashed] = SIDES[side];
    const values = this.about.series[this.about.strategies.indexOf(strategy)][this.luck][outcome];
    const mean = this.free && $("average").checked && this.about.averages[strategy]?.[outcome];
    return { name: side ? "right" : "left", side: side ? "R" : "L", colour, dashed, values, mean };
  }

  reveal(shown) {
    this.shown = shown;
    $("reveal").setAttribute("aria-expanded", String(shown));
    $("watch").classList.toggle("shown", shown);
    if (!this.free) $("watch").textContent = shown ? this.step.shows[this.luck] : this.step.watch;
  }

  play(on) {
    if (on && this.at >= 4 * this.years) this.at = 0;
    this.playing = on;
    $("play").textContent = on ? "Stop" : "Play";
    $("play").setAttribute("aria-pressed", String(on));
    if (on) {
      this.show(this.at, true);
      this.turn();
    } else if (this.pair) this.say();
  }

  // One frame after the other; `gone` counts seasons and parts of them.
  turn() {
    let last = performance.now();
    let gone = this.at;
    const next = (now) => {
      if (!this.playing) return;
      gone += (Math.min(now - last, 250) / 1000) * Number($("speed").value);
      last = now;
      const most = 4 * this.years;
      // the season under way is the one that ends next
      const step = Math.min(Math.floor(gone) + 1, most);
      if (step !== this.at) this.show(step, true);
      const part = this.calm ? 1 : Math.min(1, gone - (step - 1));
      this.maps.forEach((map, side) => map.frame(this.worlds[side], part));
      if (gone >= most) this.play(false);
      else requestAnimationFrame(next);
    };
    requestAnimationFrame(next);
  }

  go(step) {
    this.playing && this.play(false);
    this.show(Math.max(0, Math.min(step, 4 * this.years)), false);
    this.say();
  }

  show(step, moving) {
    this.at = step;
    $("time").value = step;
    $("when").textContent = this.when();
    $("time").setAttribute("aria-valuetext", this.when());
    this.maps.forEach((map, side) => {
      const world = this.worlds[side];
      world.seek(step);
      map.settle(world, this.hiding);
      if (!moving) map.frame(world, 1);
      $(SIDES[side][0]).querySelector(".now").textContent = this.numbersOf(side);
    });
    for (const chart of this.charts) chart.at(step);
  }

  when() {
    return this.at ? `Year ${this.about.first + Math.ceil(this.at / 4)}, ${this.about.seasons[(this.at - 1) % 4]}` : "At the start";
  }

  numbersOf(side) {
    const one = this.about.series[this.about.strategies.indexOf(this.pair[side])][this.luck];
    const area = `${round(one.mat_area[this.at])} ${this.about.outcomes.mat_area.unit}`;
    return `${area} of mat, ${round(one.climbed[this.at])} climbed, ${round(one.fruiting[this.at])} fruiting`;
  }

  // For those who listen: once it stands still.
  say() {
    const told = this.pair.map((name, side) => `${side ? "Right" : "Left"}, ${name}: ${this.numbersOf(side)}.`);
    told.forEach((text, side) => $(SIDES[side][0]).querySelector("canvas").setAttribute("aria-label", `Map. ${this.when()}. ${text}`));
    $("said").textContent = `${this.when()}. ${told.join(" ")}`;
  }
}

start().catch((error) => {
  $("question").textContent = "This page can't be shown here: it needs a browser of 2023 or later, or it was cut short.";
  throw error;
});
