"""Pieces of ground that a person can be sent to: squares within a unit."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from spreadsim.inputs import Site

SIZE = 50.0  # m, side of a piece
SLIVER = 0.25  # of a whole square; a smaller piece goes to the largest one beside it in its unit
OUTSIDE = "outside the units"
_HECTARE = 1e4


class Pieces(NamedTuple):
    """Pieces, numbered from 0 in order of units, then from the north-west."""

    of_cell: Any  # (cells,), -1 where the vine can't grow
    of_host: Any  # (hosts,), -1 likewise
    names: tuple[str, ...]  # column and row of the square, such as "C4": A is west, 1 is north
    units: tuple[str, ...]  # "" on a site without units
    area: Any  # m2 of ground that the vine can grow on
    access: Any  # how much longer a thing takes there than on easy ground
    hosts: Any  # how many that may be climbed
    columns: tuple[str, ...]  # names of all columns of squares
    rows: tuple[str, ...]
    x: Any  # middle, m from the site's west edge
    y: Any  # m from the south edge

    @property
    def per_hour(self) -> Any:
        """Minutes a hectare that an hour of looking comes to; on steep or rough ground it covers less."""
        return 60.0 / (self.area / _HECTARE * self.access)


def pieces_of(site: Site, size: float = SIZE) -> Pieces:
    """Cut a site.

    Parameters
    ----------
    site
        The ground.
    size
        Side of a square, m.
    """
    plantable, unit = site.plantable.ravel(), site.unit.ravel().astype("i8")
    row, column = np.divmod(np.arange(plantable.size), site.nx)
    down = ((row + 0.5) * site.cell_size // size).astype("i8")
    right = ((column + 0.5) * site.cell_size // size).astype("i8")
    high, wide = int(down.max()) + 1, int(right.max()) + 1
    key = (unit * high + down) * wide + right
    ground = np.bincount(key, weights=plantable, minlength=(int(unit.max()) + 1) * high * wide) * site.cell_size**2
    goes = _joined(ground.reshape(-1, high, wide), SLIVER * size**2)
    key = np.where(plantable > 0, goes[key], -1)
    kept, of_cell = np.unique(key, return_inverse=True)
    of_cell = of_cell.ravel() - (1 if kept[0] < 0 else 0)
    kept = kept[kept >= 0]
    inside = of_cell >= 0
    weight, place, count = plantable[inside], of_cell[inside], len(kept)
    area = np.bincount(place, weights=weight, minlength=count)

    def mean(values: Any) -> Any:
        return np.bincount(place, weights=values[inside] * weight, minlength=count) / area

    names = tuple(f"{_letters(int(k % wide))}{int(k // wide % high) + 1}" for k in kept)
    numbers = [int(k // (high * wide)) for k in kept]
    of_host = of_cell[site.hosts.cell]
    return Pieces(
        of_cell=of_cell,
        of_host=of_host,
        names=names,
        units=tuple(_unit(site, number) for number in numbers),
        area=area * site.cell_size**2,
        access=mean(site.access.ravel()),
        hosts=np.bincount(of_host[of_host >= 0], minlength=count),
        columns=tuple(map(_letters, range(wide))),
        rows=tuple(str(one + 1) for one in range(high)),
        x=mean((column + 0.5) * site.cell_size),
        y=mean((site.ny - row - 0.5) * site.cell_size),
    )


def _joined(ground: Any, least: float) -> Any:
    """Give, for each square of each unit, the one that it goes to: itself, or if too small the largest beside it."""
    _, high, wide = ground.shape
    own = ground.ravel()
    goes, area = np.arange(ground.size), own.copy()
    slivers = np.flatnonzero((area > 0) & (area < least))
    for one in slivers[np.argsort(area[slivers], kind="stable")].tolist():  # the smallest first: others may grow by it
        if area[one] >= least:
            continue
        members = np.flatnonzero(goes == one)
        r, c = members // wide % high, members % wide
        near = [(r > 0, -wide), (r < high - 1, wide), (c > 0, -1), (c < wide - 1, 1)]
        beside = np.unique(np.concatenate([members[there] + step for there, step in near]))
        beside = beside[(goes[beside] != one) & (own[beside] > 0)]
        if len(beside):
            into = goes[beside[np.argmax(own[beside])]]
            goes[members] = into
            area[into] += area[one]
            area[one] = 0.0
    return goes


def _letters(number: int) -> str:
    """A, B... Z, AA, AB..."""
    text = ""
    number += 1
    while number:
        number, rest = divmod(number - 1, 26)
        text = chr(65 + rest) + text
    return text


def _unit(site: Site, number: int) -> str:
    if not site.unit_names:
        return ""
    return site.unit_names[number - 1] if number else OUTSIDE
