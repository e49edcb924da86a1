"""The yearly record (ODD page, 7.11)."""

import math

import numpy as np

from .mat import cover, share
from .world import CLIMBING, FALLEN, HOST_STATES

COUNTS = ("climbed_hosts", "fruiting_hosts", "fallen_hosts", "known_fruiting_hosts")
AREAS = ("mat_area", "infested_area", "known_area", "native_cover")
FLOWS = ("seeds_produced", "seeds_exported", "new_patches")
WORK = ("hours", "follow_up_hours", "area_treated", "hosts_treated")


class Record:
    """What is written down of one replicate."""

    def __init__(self, world, years, tasks, funds=0):
        self.outcomes = {name: np.zeros(years + 1, dtype=np.int64) for name in COUNTS}
        for name in AREAS:
            self.outcomes[name] = np.zeros(years + 1)
        for name in FLOWS:
            self.outcomes[name] = np.full(years + 1, math.nan)
        for name in WORK:
            self.outcomes[name] = np.zeros((years + 1, 4, tasks))
            self.outcomes[name][0] = math.nan
        self.outcomes["hours_available"] = np.zeros((years + 1, 4))
        self.outcomes["hours_available"][0] = math.nan
        self.outcomes["hours_unspent"] = np.zeros((years + 1, 4, 6))
        self.outcomes["hours_unspent"][0] = math.nan
        self.outcomes["fund_left"] = np.zeros((years + 1, funds))
        self.outcomes["sources_standing"] = np.zeros(years + 1, dtype=np.int64)
        for name in ("cover", "share"):
            self.outcomes[name] = np.zeros((years + 1, world.ny, world.nx))
        self.outcomes["host_state"] = np.zeros((years + 1, len(world.hosts)), dtype=np.int64)
        self.outcomes["host_first_fruit"] = np.zeros((years + 1, len(world.hosts)))
        self.new_year()

    def new_year(self):
        """Begin the counts of a year."""
        self.bore = set()
        self.known_when_they_bore = set()
        self.seeds_produced = 0
        self.seeds_exported = 0
        self.new_patches = 0

    def bears(self, host):
        """Note that a host bears fruit now, and whether it is known when it does so first in a year."""
        if host.known and host.number not in self.bore:
            self.known_when_they_bore.add(host.number)
        self.bore.add(host.number)

    def write_work(self, year, season_index, season):
        """Write down one season's books."""
        self.outcomes["hours_available"][year + 1, season_index] = season.hours_available
        self.outcomes["hours_unspent"][year + 1, season_index] = season.unspent()
        for task in range(len(season.hours)):
            self.outcomes["hours"][year + 1, season_index, task] = season.hours[task]
            self.outcomes["follow_up_hours"][year + 1, season_index, task] = season.follow_up_hours[task]
            self.outcomes["area_treated"][year + 1, season_index, task] = season.area[task]
            self.outcomes["hosts_treated"][year + 1, season_index, task] = season.hosts[task]

    def write_funds(self, y, left):
        """Write down the money left in each fund."""
        self.outcomes["fund_left"][y] = left

    def write_year(self, world, y, t):
        """Write down the state at time t, the end of a year (or the start, y = 0), and its flows."""
        if y == 0:
            for host in world.hosts:
                if host.mapped_fruiting:
                    self.bears(host)
        else:
            self.outcomes["seeds_produced"][y] = self.seeds_produced
            self.outcomes["seeds_exported"][y] = self.seeds_exported
            self.outcomes["new_patches"][y] = self.new_patches
        self.write_ground(world, y, t)
        self.write_hosts(world, y)
        self.outcomes["sources_standing"][y] = sum(source.gone > t for source in world.sources)

    def write_ground(self, world, y, t):
        """Areas and maps."""
        out = self.outcomes
        mat = infested = known = native = ground = 0.0
        for cell in world.cells:
            living, taken = cover(world, cell, t), share(world, cell, t)
            out["cover"][y, cell.row, cell.column] = living
            out["share"][y, cell.row, cell.column] = taken
            mat = mat + living * (world.h * world.h) * cell.plantable
            infested = infested + taken * (world.h * world.h) * cell.plantable
            if cell.known:
                known = known + taken * (world.h * world.h) * cell.plantable
            native = native + cell.native * cell.plantable
            ground = ground + cell.plantable
        out["mat_area"][y], out["infested_area"][y], out["known_area"][y] = mat, infested, known
        out["native_cover"][y] = native / ground

    def write_hosts(self, world, y):
        """Counts and states of hosts."""
        out = self.outcomes
        out["fruiting_hosts"][y] = len(self.bore)
        out["known_fruiting_hosts"][y] = len(self.known_when_they_bore)
        for host in world.hosts:
            out["host_state"][y, host.number] = HOST_STATES.index(host.state)
            out["host_first_fruit"][y, host.number] = host.first_fruit
            if host.state == CLIMBING:
                out["climbed_hosts"][y] += 1
            if host.state == FALLEN:
                out["fallen_hosts"][y] += 1
