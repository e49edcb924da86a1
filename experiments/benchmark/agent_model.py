"""The other side of `agents`: mat and hosts in mesa, a general-purpose agent framework.

Each cell of ground and each host is an agent on a grid of eight neighbours. A season: every piece of ground works out
what its cover will be (logistic thickening and its neighbours' pressure, as in `lattice.py`, with the same rates), then
all take it; every host in mat may be climbed (chance 1 - exp(-climb_rate x cover x time)), and fruits once its wait, a
gamma of the vine's mean and shape, is over. Ground and hosts that have nothing to do are passed over as soon as that is
known, neighbours are looked up once and kept, and building the model is not counted.
"""

import math
from typing import Any

import mesa
from lattice import FLOOR, pressure_rate
from mesa.discrete_space import FixedAgent, OrthogonalMooreGrid

import spreadsim


class Ground(FixedAgent):
    """A cell of ground with mat on it."""

    def __init__(self, model: "Wood", cell: Any, cover: float, light: float) -> None:
        super().__init__(model)
        self.cell = cell
        self.cover = self.coming = cover
        self.light = light
        self.around: list[Ground] = []

    def look(self) -> None:
        """Work out the cover at the season's end."""
        pressure = 0.0
        for other in self.around:
            pressure += other.cover
        if self.cover == 0.0 and pressure < FLOOR:
            return
        model = self.model
        growth = self.light * model.share * (model.thickening * self.cover + model.pressure * pressure)
        self.coming = self.cover + (1.0 - self.cover) * growth

    def grow(self) -> None:
        """Take it."""
        self.cover = self.coming


class Host(FixedAgent):
    """Something that can be climbed."""

    def __init__(self, model: "Wood", ground: Ground, years_to_fruit: float, climbed: bool, fruiting: bool) -> None:
        super().__init__(model)
        self.ground = ground
        self.cell = ground.cell
        self.years_to_fruit = years_to_fruit
        self.climbed = climbed
        self.fruiting = fruiting
        self.wait = 0.0

    def rise(self) -> None:
        """Be climbed, or come nearer to fruit."""
        model = self.model
        if self.fruiting:
            return
        if self.climbed:
            self.wait += model.share
            self.fruiting = self.wait >= self.years_to_fruit
        elif self.ground.cover > model.seen:
            chance = 1.0 - math.exp(-model.climb_rate * self.ground.cover * model.share)
            self.climbed = model.random.random() < chance


class Wood(mesa.Model):
    """A site as agents.

    Parameters
    ----------
    site
        The ground.
    vine
        One replicate's numbers by name.
    shares
        Of a year's growth by season.
    seed
        Of the model's own random numbers.
    """

    def __init__(self, site: spreadsim.Site, vine: Any, shares: tuple[float, ...], seed: int) -> None:
        super().__init__(seed=seed)
        self.shares = shares
        self.share = 0.0
        self.seen = float(vine["density_on_arrival"])
        self.thickening = math.log(2.0) / float(vine["cover_doubling_time"])
        self.pressure = pressure_rate(
            float(vine["front_speed"]), float(vine["cover_doubling_time"]), shares, site.cell_size
        )
        self.climb_rate = float(vine["climb_rate"])
        grid = OrthogonalMooreGrid((site.ny, site.nx), torus=False, random=self.random)
        pieces: dict[tuple[int, int], Ground] = {}
        full = float(site.mat.max()) or 1.0
        for place, cell in grid._cells.items():
            if site.plantable[place] > 0:
                light = 1.0 - float(site.canopy[place]) * (1.0 - float(vine["shade_factor"]))
                pieces[place] = Ground(self, cell, float(site.mat[place]) / full, light)
        for (row, column), piece in pieces.items():
            steps = [(row + i, column + j) for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j]
            piece.around = [pieces[step] for step in steps if step in pieces]
        shape = int(vine["wait_shape"])
        hosts = site.hosts
        for number, state in zip(hosts.cell, hosts.state, strict=True):
            ground = pieces.get(divmod(int(number), site.nx))
            if ground is not None:
                wait = self.random.gammavariate(shape, float(vine["years_to_first_fruit"]) / shape)
                Host(self, ground, wait, state > 0, state == 2)
        self.ground = self.agents_by_type[Ground]
        self.hosts = self.agents_by_type[Host]

    def infested(self) -> int:
        """Count the cells with at least the cover that counts."""
        return sum(piece.cover >= self.seen for piece in self.ground)

    def season(self, share: float) -> None:
        """One season with its share of the year's growth."""
        self.share = share
        self.ground.do("look")
        self.ground.do("grow")
        self.hosts.do("rise")

    def run_years(self, years: int) -> list[tuple[int, int]]:
        """Infested cells and climbed hosts by year, from the start."""
        record = [(self.infested(), sum(host.climbed for host in self.hosts))]
        for _ in range(years):
            for share in self.shares:
                self.season(share)
            record.append((self.infested(), sum(host.climbed for host in self.hosts)))
        return record
