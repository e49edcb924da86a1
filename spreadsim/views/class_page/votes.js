// Hands counted by step and round; kept while the page is open, also over a reload.
class Votes {
  constructor(place, store) {
    this.place = place;
    this.store = store;
    this.counts = {};
    try {
      this.counts = JSON.parse(sessionStorage.getItem(store)) || {};
    } catch {
      this.counts = {}; // a browser that keeps nothing for pages from a disk
    }
  }

  of(step, round, options) {
    const name = `${step.key} ${round}`;
    this.counts[name] ??= options.map(() => 0);
    return this.counts[name];
  }

  keep() {
    try {
      sessionStorage.setItem(this.store, JSON.stringify(this.counts));
    } catch {
      // they are counted all the same
    }
  }

  // One ballot; before it are the rounds of the same question, of this step and of earlier ones.
  show(step, round, earlier, choose) {
    this.place.replaceChildren();
    if (step.rounds.length > 1) {
      const row = element(this.place, "p", { className: "rounds" });
      step.rounds.forEach((name, i) => {
        const button = element(row, "button", { type: "button", textContent: name });
        button.setAttribute("aria-pressed", String(i === round));
        button.addEventListener("click", () => choose(i, true));
      });
    }
    const counts = this.of(step, round, step.options);
    const before = earlier.map(([other, i]) => this.of(other, i, step.options));
    const table = element(this.place, "table");
    const caption = element(table, "caption", { textContent: before.length ? `${step.rounds[round]} (grey: earlier ones)` : step.rounds[round] });
    caption.classList.toggle("quiet", step.rounds.length > 1);
    step.options.forEach((option, i) => {
      const row = element(table, "tr");
      const head = element(row, "th", { textContent: option });
      head.scope = "row";
      const bar = draw(element(row, "td", { className: "bar" }), "svg", { "aria-hidden": "true", viewBox: "0 0 106 22" });
      const number = element(row, "td", { className: "votes" });
      const cell = element(row, "td");
      const tell = () => {
        number.textContent = counts[i];
        bars(bar, [...before, counts], i);
      };
      for (const [sign, change, word] of [["\u2212", -1, "Take back a vote for"], ["+", 1, "Add a vote for"]]) {
        const button = element(cell, "button", { type: "button", textContent: sign });
        button.setAttribute("aria-label", `${word}: ${option}`);
        button.addEventListener("click", () => {
          counts[i] = Math.max(0, counts[i] + change);
          this.keep();
          for (const one of this.tellers) one();
        });
      }
      this.tellers = i ? [...this.tellers, tell] : [tell];
    });
    for (const one of this.tellers) one();
  }
}

function bars(svg, rounds, option) {
  svg.replaceChildren();
  const high = 22 / rounds.length;
  rounds.forEach((counts, i) => {
    const share = counts[option] / Math.max(1, counts.reduce((sum, n) => sum + n, 0));
    const fill = i === rounds.length - 1 ? "#12365f" : "#8b867a";
    draw(svg, "rect", { x: 0, y: i * high + 1, width: 106 * share, height: high - 2, fill });
  });
  draw(svg, "path", { d: "M0.5 0V22", stroke: "#1d1d1b" });
}

function element(parent, name, properties = {}) {
  const made = Object.assign(document.createElement(name), properties);
  parent.append(made);
  return made;
}
