"""A survey given as a whole second map of the site: its mats and climbed hosts are the finds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from spreadsim.errors import MISSING, Said, one_of
from spreadsim.inputs import Site, Survey
from spreadsim.inputs.checks import Check, is_number
from spreadsim.inputs.hosts import STATES
from spreadsim.inputs.survey import Event, Record
from spreadsim.learning.outline import Outline, is_outline, outline_of
from spreadsim.learning.records import HOST_NEAR
from spreadsim.learning.worlds import BARE

EVERYWHERE = "everywhere"
MOST_HOURS = 100_000.0
_NEAR = 0.5  # m by which corners of the two maps may lie apart
_PATH = "second map"


def survey_of_map(site: Site, second: Site, looked: Mapping[str, float] | None = None, *, path: str = _PATH) -> Survey:
    """Make a survey of a second map of a site.

    Mats are compared by cell and hosts by place: a climbed host of the second map is the host of the first that stands
    nearest, if within 5 m; others are counted in their unit, and said. Where nobody looked the second map says nothing,
    however bare it is.

    Parameters
    ----------
    site
        The first map.
    second
        The same ground on the same grid, as `read_site` gives it; only its mats and hosts are taken.
    looked
        Hours that all people together looked, by the ground that they went over: a unit of the first map,
        "everywhere" (then call `learn` with ``everywhere=True``), or a file of outlines (GeoPackage or GeoJSON).
        Finds elsewhere are places where vine is, and tell nothing else; none: all of them.
    path
        Name for messages.

    Returns
    -------
    Survey

    Raises
    ------
    InputError
        Where the second map is of another place or grid, ground is not known, or hours are none.
    """
    check = Check(path)
    _same_place(site, second, check)
    grounds = _grounds(site, dict(looked or {}), check)
    if grounds and len(site.hosts) and not len(second.hosts):
        allowed = "hosts too, bare ones at least: where people looked, vine that is not on the second map was not there"
        check.add("hosts", MISSING, allowed)
    check.done()
    finds = [*_mats(site, second), *_hosts(site, second, check)]
    check.done()
    events = [_event(site, name, part, finds) for name, part in grounds.items()]
    held = {id(record) for event in events for record in event.records}
    rest = tuple(record for _, record in finds if id(record) not in held)
    if rest:
        events.append(Event("elsewhere" if events else "all of the map", None, None, "", rest))
    remarks = [": ".join(part for part in remark[1:] if part) for remark in check.problems.remarks]
    if not grounds:
        remarks.append("no hours are said for the second map: what it shows is there, what it lacks may be there too")
    return Survey(path, tuple(events), tuple(remarks))


def _same_place(site: Site, second: Site, check: Check) -> None:
    """Note what differs in grid and place."""
    for name, ours, theirs in (
        ("cell_size", site.cell_size, second.cell_size),
        ("width", site.width, second.width),
        ("height", site.height, second.height),
    ):
        if abs(ours - theirs) > 1e-6 * ours:
            check.add(name, theirs, f"{ours:g} m, as of the first map")
    if site.crs is not None and second.crs is not None and site.crs != second.crs:
        check.add("crs", second.crs, f"{site.crs}, as of the first map")
    if max(abs(a - b) for a, b in zip(site.origin, second.origin, strict=True)) > _NEAR:
        found = Said(f"a south-west corner at {second.origin[0]:,.1f}, {second.origin[1]:,.1f}")
        check.add("origin", found, f"{site.origin[0]:,.1f}, {site.origin[1]:,.1f}, as of the first map")


def _grounds(site: Site, looked: dict[str, float], check: Check) -> dict[str, tuple[float, Any]]:
    """Give hours and ground by name: the number of a unit, an outline, or None for everywhere."""
    names = {" ".join(name.lower().split()): k for k, name in enumerate(site.unit_names, 1)}
    grounds: dict[str, tuple[float, Any]] = {}
    for name, hours in looked.items():
        if not is_number(hours) or not 0.0 < hours <= MOST_HOURS:
            check.add(f"looked, {name}", hours, f"hours of all people together, above 0 and at most {MOST_HOURS:,.0f}")
            continue
        plain = " ".join(name.lower().split())
        if plain in names:
            grounds[site.unit_names[names[plain] - 1]] = (hours, names[plain])
        elif plain == EVERYWHERE:
            grounds[EVERYWHERE] = (hours, None)
        elif is_outline(name):
            found = outline_of(name, site, check)
            if found is not None:
                grounds[name] = (hours, found)
        else:
            check.add("looked", name, one_of([*site.unit_names, EVERYWHERE, "a file of outlines (.gpkg, .geojson)"]))
    return grounds


def _mats(site: Site, second: Site) -> list[tuple[int, Record]]:
    """Give a find for each cell with mat."""
    cells = np.flatnonzero((second.mat > 0).ravel() & (site.plantable > 0).ravel())
    area = second.mat.ravel()[cells] * site.plantable.ravel()[cells] * site.cell_size**2
    row, column = np.divmod(cells, site.nx)
    x, y = (column + 0.5) * site.cell_size, (site.ny - row - 0.5) * site.cell_size
    return [
        (cell, Record(f"mat at {a:g}, {b:g}", "", True, xy=(a, b), quantity=(f"{size:.6f}", "m2")))
        for cell, a, b, size in zip(cells.tolist(), x.tolist(), y.tolist(), area.tolist(), strict=True)
    ]


def _hosts(site: Site, second: Site, check: Check) -> list[tuple[int, Record]]:
    """Give a find for each climbed host, with the number that it has on the first map if it is there."""
    mine, theirs = site.hosts, second.hosts
    same = _same_hosts(site, second)
    climbed = np.flatnonzero(theirs.state != BARE).tolist()
    finds = []
    for j in climbed:
        state, x, y = STATES[int(theirs.state[j])], float(theirs.x[j]), float(theirs.y[j])
        place = f"host at {x:.1f}, {y:.1f}"
        if j in same:
            finds.append((int(mine.cell[same[j]]), Record(place, "", True, host=f"H{same[j]}", state=state)))
        else:
            finds.append((int(theirs.cell[j]), Record(place, "", True, xy=(x, y), state=state)))
    strange = sum(j not in same for j in climbed)
    if strange and strange == len(climbed) and len(mine):
        allowed = f"hosts of the first map, to within {HOST_NEAR:g} m"
        check.add("hosts", Said(f"{strange:,} climbed, none of which stands on the first map"), allowed)
    elif strange:
        check.remark(
            "hosts",
            f"{strange:,} of {len(climbed):,} climbed hosts stand more than {HOST_NEAR:g} m from any host of the first "
            "map that is not another of them: they count in their unit, and no world can tell which they are",
        )
    return finds


def _same_hosts(site: Site, second: Site) -> dict[int, int]:
    """Give the host of the first map that each of the second is, the nearest pairs first, each only once."""
    from scipy.spatial import cKDTree

    if not len(site.hosts) or not len(second.hosts):
        return {}
    trees = [cKDTree(np.column_stack([one.hosts.x, one.hosts.y])) for one in (second, site)]
    pairs = trees[0].sparse_distance_matrix(trees[1], HOST_NEAR, output_type="coo_matrix")
    same: dict[int, int] = {}
    taken: set[int] = set()
    for k in np.lexsort((pairs.col, pairs.row, pairs.data)).tolist():
        theirs, mine = int(pairs.row[k]), int(pairs.col[k])
        if theirs not in same and mine not in taken:
            same[theirs] = mine
            taken.add(mine)
    return same


def _event(site: Site, name: str, part: tuple[float, Any], finds: list[tuple[int, Record]]) -> Event:
    """Give the visit of a ground with what was found in it; with an absence, so that ground with no find counts."""
    hours, ground = part
    unit = site.unit.ravel()
    if isinstance(ground, Outline):
        inside = np.zeros(unit.size, bool)
        inside[ground.cells] = True
        found = [record for cell, record in finds if inside[cell]]
        absent = Record(f"looked, {name}", name, False, footprint=ground.text)
        return Event(name, hours, ground.area, "", (absent, *found))
    if ground is None:
        return Event(name, hours, None, "", tuple(record for _, record in finds))
    found = [record for cell, record in finds if unit[cell] == ground]
    return Event(name, hours, None, "", (Record(f"looked, {name}", name, False, unit=name), *found))
