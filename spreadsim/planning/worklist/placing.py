"""Places from sums over worlds: hosts, pieces of ground, units to search, and what has to be found first."""

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from spreadsim.inputs import Task
from spreadsim.inputs.hosts import STATES
from spreadsim.planning.worklist.place import FIND, GROUND, HOST, LEAST_SHARE, PLANNED, SEARCH, Place
from spreadsim.planning.worklist.sums import Done, PlaceSums
from spreadsim.planning.worklist.worked import Reader


def places_of(reader: Reader, done: Done, count: int, seasons: int) -> Iterator[Place]:
    """Give the places of all seasons from so many worlds; pieces of ground are numbered through."""
    number = 0
    for s in range(seasons):
        for t, task in enumerate(reader.tasks):
            sums = done.places.get((s, t))
            if sums is None:
                yield from _searches(reader, done, s, t)
            elif reader.kinds[t] == "stems":
                yield from _hosts(reader, done.treatments, sums, count, s, t)
                yield from _to_find(reader, sums, count, s, t)
            else:
                pieces = _pieces(reader, task, sums, count, s, t, number)
                number += len(pieces)
                yield from pieces


def _hosts(reader: Reader, names: Sequence[str], sums: PlaceSums, count: int, s: int, t: int) -> Iterator[Place]:
    """Hosts that can be gone to: of the others a crew knows no more than how many it may find."""
    hosts = reader.site.hosts
    share = sums.count / count
    chosen = np.flatnonzero((share >= LEAST_SHARE) & hosts.can_be_gone_to)
    bears = hosts.state[chosen] != 2
    chosen = chosen[np.lexsort((chosen, bears, -share[chosen]))]
    for order, j in enumerate(chosen.tolist(), start=1):
        given = sorted(sums.treatments, key=lambda row: -int(sums.treatments[row][j]))
        used = tuple(names[row] for row in given if sums.treatments[row][j] > 0)
        yield Place(
            season=s,
            unit=int(reader.unit[hosts.cell[j]]),
            task=t,
            order=order,
            kind=HOST,
            label=f"H{j}",
            x=float(hosts.x[j]),
            y=float(hosts.y[j]),
            share=float(share[j]),
            visit=bool(sums.visits[j] > sums.count[j] / 2),
            hours=float(sums.hours[j] / sums.count[j]),
            treatments=used or (reader.tasks[t].treatment,),
            about=f"{hosts.girth[j]} {hosts.kind[j]}, {_told(reader.seen_hosts[j])} {STATES[hosts.state[j]]}",
            area=0.0,
            cells=np.zeros(0, "i8"),
        )


def _to_find(reader: Reader, sums: PlaceSums, count: int, s: int, t: int) -> Iterator[Place]:
    """Hosts that no crew can be sent to today, unit by unit: where they stand in the worlds is nobody's knowledge."""
    hosts = reader.site.hosts
    hidden = ~hosts.can_be_gone_to
    unit = reader.unit[hosts.cell]
    for order, u in enumerate(np.flatnonzero(sums.hidden >= LEAST_SHARE * count).tolist(), start=1):
        mine, worlds = hidden & (unit == u), int(sums.hidden[u])
        number = max(1, round(float(sums.count[mine].sum()) / worlds))
        counted = bool((mine & hosts.placed & (sums.count > 0)).any())
        told = "known only as a count" if counted else "with vine that nobody has found yet"
        told = f"a host {told}" if number == 1 else f"some {number} hosts {told}"
        x, y = _middle(reader, u)
        yield Place(
            season=s,
            unit=u,
            task=t,
            order=int((sums.count[~hidden] >= LEAST_SHARE * count).sum()) + order,
            kind=FIND,
            label=f"F{u}",
            x=x,
            y=y,
            share=worlds / count,
            visit=bool(sums.visits[mine].sum() > sums.count[mine].sum() / 2),
            hours=float(sums.hours[mine].sum() / worlds),
            treatments=(reader.tasks[t].treatment,),
            about=f"{told}: find and mark first",
            area=0.0,
            cells=np.zeros(0, "i8"),
        )


def _middle(reader: Reader, unit: int) -> tuple[float, float]:
    """A point on a unit's ground, m from the south-west corner."""
    site = reader.site
    cells = np.flatnonzero((reader.unit == unit) & (reader.area > 0))
    row, column = divmod(int(cells[cells.size // 2]) if cells.size else 0, site.nx)
    return (column + 0.5) * site.cell_size, (site.ny - row - 0.5) * site.cell_size


def _pieces(reader: Reader, task: Task, sums: PlaceSums, count: int, s: int, t: int, first: int) -> list[Place]:
    """Cells side by side in one unit, planned ones apart from those for when hours are left.

    Where no mat is mapped or was seen since none is known: what grew beyond is listed with the mat that it grew from,
    or not.
    """
    from scipy.ndimage import label

    site = reader.site
    share = (sums.count / count).reshape(site.ny, site.nx)
    unit = reader.unit.reshape(site.ny, site.nx)
    found = []
    for low, high in ((PLANNED, np.inf), (LEAST_SHARE, PLANNED)):
        wanted = (share >= low) & (share < high)
        for u in np.unique(unit[wanted]).tolist():
            marks, pieces = label(wanted & (unit == u), structure=np.ones((3, 3)))
            order = np.argsort(marks, axis=None, kind="stable")
            bounds = np.searchsorted(marks.ravel()[order], np.arange(1, pieces + 2))
            found += [order[bounds[k] : bounds[k + 1]] for k in range(pieces)]
    if reader.kinds[t] == "mat":
        found = [cells for cells in found if (site.mat.ravel()[cells] > 0).any()]
    found.sort(key=lambda cells: (sums.count[cells].mean() < PLANNED * count, -sums.count[cells].mean(), cells[0]))
    names = tuple(name for name in (task.treatment, task.instead) if name)
    following = task.follow_up.treatment if task.follow_up else None
    places = []
    for place, cells in enumerate(found, start=1):
        visit = bool(sums.visits[cells].sum() > sums.count[cells].sum() / 2)
        row, column = np.divmod(cells, site.nx)
        middle = int(np.argmin((row - row.mean()) ** 2 + (column - column.mean()) ** 2))  # on the piece, not beside it
        places.append(
            Place(
                season=s,
                unit=int(reader.unit[cells[0]]),
                task=t,
                order=place,
                kind=GROUND,
                label=f"G{first + place}",
                x=float((column[middle] + 0.5) * site.cell_size),
                y=float((site.ny - row[middle] - 0.5) * site.cell_size),
                share=float(sums.count[cells].mean() / count),
                visit=visit,
                hours=float((sums.hours[cells] / sums.count[cells]).sum()),
                treatments=(following,) if visit and following else names,
                about=_about_ground(site, cells, _told(reader.seen_cells[cells].any())),
                area=float(reader.area[cells].sum()),
                cells=cells,
            )
        )
    return places


def _told(seen: Any) -> str:
    return "seen" if seen else "mapped"


def _about_ground(site: Any, cells: Any, told_how: str) -> str:
    sensitive = float(site.sensitive.ravel()[cells].mean())
    cover = site.mat.ravel()[cells]
    told = (
        f"mat, {told_how} cover {float(cover[cover > 0].mean()):.0%}".replace("%", " %")
        if cover.any()
        else f"no mat {told_how}"
    )
    if sensitive == 1:
        return f"{told}; no herbicide here"
    return f"{told}; no herbicide on part of it, see the map" if sensitive > 0 else told


def _searches(reader: Reader, done: Done, s: int, t: int) -> Iterator[Place]:
    """Units that are gone through as a whole, for looking; owners who are asked."""
    total = done.by_unit[:, s, t].sum(axis=1)  # (worlds, units + 1)
    share = (total > 0).mean(axis=0)
    number = 0
    for unit in np.flatnonzero(share >= LEAST_SHARE).tolist():
        cells = np.flatnonzero((reader.unit == unit) & (reader.area > 0))
        asked = reader.kinds[t] == "sources"
        if not cells.size and not asked:
            continue
        number += 1
        site = reader.site
        x, y = _middle(reader, unit)
        name = site.unit_names[unit - 1] if unit else "the ground in no unit" if site.unit_names else "the site"
        yield Place(
            season=s,
            unit=unit,
            task=t,
            order=number,
            kind=SEARCH,
            label=f"U{unit}",
            x=x,
            y=y,
            share=float(share[unit]),
            visit=False,
            hours=float(np.median(total[:, unit])),
            treatments=(reader.tasks[t].treatment,),
            about="owners of planted vine beyond the boundary" if asked else f"all of {name}: look, mark, write down",
            area=0.0 if asked else float(reader.area[cells].sum()),
            cells=np.zeros(0, "i8"),
        )
