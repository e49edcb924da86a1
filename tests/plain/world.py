"""What there is (ODD page, section 2): cells, hosts, seedlings, and the world that holds them."""

import math
from dataclasses import dataclass, field

EMPTY, FRONT, FOUNDER = "empty", "front", "founder"
BARE, CLIMBING, CUT, FALLEN = "bare", "climbing", "cut", "fallen"
HOST_STATES = (BARE, CLIMBING, CUT, FALLEN)
NEVER = math.inf
LONG_AGO = -math.inf


@dataclass
class Cell:
    """One square of ground."""

    number: int
    row: int
    column: int
    x: float
    y: float
    plantable: float
    canopy: float
    access: float
    wetness: float
    sensitive: bool
    unit: int
    mat_beyond: bool
    light: float = 1.0
    slowness: float = 1.0
    thickening: float = 1.0
    perch: bool = False
    kind: str = EMPTY
    arrival: float = NEVER
    push: float = NEVER
    odds: float = math.inf  # against the densest mat: 1 / density - 1
    changed: float = 0.0
    cleared: float = LONG_AGO
    disturbed_until: float = LONG_AGO
    covered_until: float = LONG_AGO
    native: float = 1.0
    planted: bool = False
    known: bool = False
    origin: int = -1
    opened_by: int | None = None
    opened_at: int = 0
    next_visit: int = 0
    clean_visits: int = 0
    worked_in_season: int = -1

    @property
    def barrier(self):
        """Whether nothing can grow here."""
        return self.plantable == 0.0

    @property
    def density(self):
        """Density at its last change (1: full)."""
        return 1.0 / (1.0 + self.odds)

    @density.setter
    def density(self, d):
        self.odds = 1.0 / d - 1.0 if d > 0.0 else math.inf

    @property
    def infested(self):
        """Whether mat has reached it."""
        return self.kind != EMPTY


@dataclass
class Host:
    """A tree, fence, wall, log... that can be climbed."""

    number: int
    x: float
    y: float
    cell: Cell
    kind: str
    girth: str
    height: float
    top_light: float
    known: bool
    mapped_fruiting: bool = False
    state: str = BARE
    climbed: float = NEVER
    first_fruit: float = NEVER
    last_cut: float = LONG_AGO
    ring_until: float = LONG_AGO
    worked_before: bool = False
    opened_by: int | None = None
    opened_at: int = 0
    next_visit: int = 0
    clean_visits: int = 0
    visits_this_season: int = 0
    treatments_this_season: set = field(default_factory=set)
    share_left_of_cut_crop: float | None = None

    def fruiting(self, now):
        """Whether it climbs and its first fruit has come."""
        return self.state == CLIMBING and self.first_fruit <= now


@dataclass
class Source:
    """A planted source of seed outside."""

    number: int
    x: float
    y: float
    equivalents: float
    gone: float = NEVER
    consented: bool = False
    asked_in_year: int = -1


@dataclass
class Seedling:
    """One that will be a patch if nothing stops it."""

    entity: int
    shed: int
    number: int
    cell: Cell
    by_birds: bool
    germinates: int
    roots: int
    alive: bool = True


class World:
    """One replicate's ground, hosts, seedlings, parameters and chance."""

    def __init__(self, site, vine_values, draws):
        self.p = vine_values
        self.draws = draws
        self.h = float(site.cell_size)
        self.ny, self.nx = int(site.ny), int(site.nx)
        self.width, self.height = self.nx * self.h, self.ny * self.h
        self.background_seed = float(site.background_seed)
        self.unit_names = tuple(site.unit_names)
        self.cells = [self.make_cell(site, row, column) for row in range(self.ny) for column in range(self.nx)]
        self.hosts = [self.make_host(site.hosts, j) for j in range(len(site.hosts.x))]
        self.sources = [
            Source(i, float(site.sources.x[i]), float(site.sources.y[i]), float(site.sources.hosts[i]))
            for i in range(len(site.sources.x))
        ]
        self.seedlings = []
        self.open_neighbours = {}
        self.mean_perch_weight = None
        self.find_perches()

    def make_cell(self, site, row, column):
        """One cell with what is fixed about it (ODD 7.1: light factor, slowness, thickening rate)."""
        p = self.p
        cell = Cell(
            number=row * self.nx + column,
            row=row,
            column=column,
            x=(column + 0.5) * self.h,
            y=(self.ny - row - 0.5) * self.h,
            plantable=float(site.plantable[row][column]),
            canopy=float(site.canopy[row][column]),
            access=float(site.access[row][column]),
            wetness=float(site.wetness[row][column]),
            sensitive=bool(site.sensitive[row][column]),
            unit=int(site.unit[row][column]),
            mat_beyond=bool(site.boundary_mat[row][column]),
        )
        cell.light = 1.0 - cell.canopy * (1.0 - p["mat.shade_factor"])
        cell.slowness = 1.0 / (p["mat.front_speed"] * cell.light)
        cell.thickening = math.log(2.0) / p["mat.cover_doubling_time"] * cell.light
        return cell

    def make_host(self, hosts, j):
        """One host with what is fixed about it."""
        return Host(
            number=j,
            x=float(hosts.x[j]),
            y=float(hosts.y[j]),
            cell=self.cells[int(hosts.cell[j])],
            kind=str(hosts.kind[j]),
            girth=str(hosts.girth[j]),
            height=float(hosts.height[j]),
            top_light=float(hosts.top_light[j]),
            known=bool(hosts.known[j]),
        )

    def find_perches(self):
        """A perch cell has a host of at least 2 m in it or within 3 m of its centre (ODD 7.3)."""
        for cell in self.cells:
            for host in self.hosts:
                near = math.sqrt((host.x - cell.x) ** 2 + (host.y - cell.y) ** 2) <= 3.0
                if host.height >= 2.0 and (host.cell is cell or near):
                    cell.perch = True

    def cell_at(self, row, column):
        """Give the cell there, or None beyond the edge of the site."""
        if 0 <= row < self.ny and 0 <= column < self.nx:
            return self.cells[row * self.nx + column]
        return None

    def cell_under(self, x, y):
        """Give the cell under a point (m from the south-west corner), or None off the site."""
        return self.cell_at(self.ny - 1 - math.floor(y / self.h), math.floor(x / self.h))

    def germinated_seedlings(self, cell, season):
        """Living seedlings of the cell that have germinated by this season."""
        return [s for s in self.seedlings if s.alive and s.cell is cell and s.germinates <= season]
