// What stands on the ground of one side after so many seasons.
class World {
  constructor(cells, hosts) {
    this.cells = new Uint8Array(cells);
    this.hosts = new Uint8Array(hosts);
    this.run = null;
    this.step = -1;
  }

  show(run) {
    this.run = run;
    this.step = -1;
  }

  // Forward by what changed; backward from the start, which is as quick as the eye.
  seek(step) {
    if (step < this.step || this.step < 0) {
      this.cells.fill(0);
      this.hosts.fill(0);
      this.step = -1;
    }
    while (this.step < step) {
      this.step += 1;
      apply(this.run.ground, this.step, this.cells);
      apply(this.run.hosts, this.step, this.hosts);
    }
  }
}

function apply({ starts, places, codes }, step, state) {
  for (let i = starts[step]; i < starts[step + 1]; i++) state[places[i]] = codes[i];
}

const BARE = 0, CLIMBING = 1, CUT = 2, FALLEN = 3, FRUITING = 4, UNKNOWN_CELL = 4, UNKNOWN_HOST = 8;
const WORKED = 2, FOUND = 4, ROOTED = 1;
