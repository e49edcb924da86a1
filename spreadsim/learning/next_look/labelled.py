"""Where to look next as one labelled dataset."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import xarray as xr

import spreadsim
from spreadsim.inputs import Treatment
from spreadsim.learning.folder import LEARNED_FILE
from spreadsim.learning.next_look.asked import Asked
from spreadsim.learning.next_look.ground import Pieces
from spreadsim.learning.next_look.laws import Things, chances, terms_of
from spreadsim.learning.next_look.paired import MEASURED
from spreadsim.learning.next_look.sharing import Terms, gain_of_more, gained, hours_until, share_out
from spreadsim.learning.next_look.sure import Sure
from spreadsim.schema import CONVENTIONS, COORDINATES

_POINTS = 60  # of the curve
_DOWN_TO = 1e-3  # of the gain of the first hour, where the curve ends


class Found(NamedTuple):
    """All that was worked out."""

    asked: Asked
    pieces: Pieces
    things: Things
    terms: Terms
    weighed: dict[str, float]
    hours: Any
    rate: Any
    by_presence: Any
    sure: Sure


def labelled(found: Found) -> xr.Dataset:
    """Make the dataset; see `look_next`."""
    pieces, things, terms, hours = found.pieces, found.things, found.terms, found.hours
    chance, chance_found = chances(things, hours)
    each = [terms_of(things, row) for row in np.eye(len(MEASURED)) * _signs()]
    harm = np.array([_unseen(things, row) for row in np.eye(len(MEASURED)) * _signs()])
    avoided = np.array([gained(one, hours) for one in each])
    order = np.lexsort((np.arange(len(hours)), -found.rate))
    rank = np.zeros(len(hours), "i4")
    some = order[hours[order] > 0]
    rank[some] = np.arange(1, len(some) + 1)
    last = float(gain_of_more(terms, share_out(terms, found.asked.hours)).max(initial=0.0))
    curve = _curve(terms, last)
    names = ("piece",)
    site, (x0, y0) = found.asked.experiment.site, found.asked.experiment.site.origin
    variables = {
        "unit": (names, np.array(pieces.units, object), _of("unit that the piece lies in")),
        "area": (names, pieces.area, _of("ground that the vine can grow on", "m2")),
        "access": (names, pieces.access, _of("how much longer looking takes than on easy ground")),
        "hosts": (names, pieces.hosts.astype("i4"), _of("hosts that may be climbed")),
        "rank": (names, rank, _of("place in the order of going, 1 is worth most an hour; 0: no hours")),
        "hours": (names, hours, _of("hours of looking, in whole visits", "h")),
        "hours_by_presence": (names, found.by_presence, _of("the same by the chance of presence alone", "h")),
        "chance": (names, chance, _of("chance that vine is there that nobody knows of")),
        "chance_found": (names, chance_found, _of("chance that the hours find some of it if it is there")),
        "harm": (("measure", "piece"), harm, _of("what the unknown vine leads to by the horizon, in its own units")),
        "avoided": (("measure", "piece"), avoided, _of("how much of it the hours avoid on average")),
        "score_avoided": (names, gained(terms, hours), _of("harm avoided by the hours, as weighed")),
        "rate": (names, found.rate, _of("harm avoided an hour of the visit, or of a first visit, as weighed")),
        "first": (names, found.sure.first, _of("share of resampled worlds in which it is worth most an hour")),
        "among_first": (names, found.sure.among, _of("share of resampled worlds in which it is among the first")),
        "piece_of_cell": (("y", "x"), pieces.of_cell.reshape(site.ny, site.nx).astype("i4"), _of("piece, -1: none")),
        "curve_hours": (("point",), curve[0], _of("hours of looking, shared out at best", "h")),
        "curve_avoided": (("point",), curve[1], _of("harm avoided by them, as weighed")),
        "curve_gain_of_more": (("point",), curve[2], _of("harm avoided by an hour more")),
    }
    looked = _looked(found)
    if looked is not None:
        variables["looked"] = (names, looked, _of("share of the piece that the last survey looked at"))
    coordinates = {
        "piece": ("piece", np.array(pieces.names, object), _of("column and row of the square, from the north-west")),
        "measure": ("measure", np.array([one.name for one in MEASURED], object), _of("what is harmed")),
        "piece_x": ("piece", x0 + pieces.x, _of("middle of the piece, east", "m")),
        "piece_y": ("piece", y0 + pieces.y, _of("middle of the piece, north", "m")),
        "y": ("y", y0 + (site.ny - np.arange(site.ny) - 0.5) * site.cell_size, dict(COORDINATES["y"])),
        "x": ("x", x0 + (np.arange(site.nx) + 0.5) * site.cell_size, dict(COORDINATES["x"])),
    }
    return xr.Dataset(variables, coordinates, _attributes(found) | {"gain_of_more": last})


def _signs() -> Any:
    return np.array([-1.0 if measure.better == "higher" else 1.0 for measure in MEASURED])


def _unseen(things: Things, by_measure: Any) -> Any:
    """Give the harm of all that is unknown by piece, whether or not a search can tell it."""
    plain = things._replace(seen=np.ones(len(things.seen)))
    one = terms_of(plain, by_measure)
    return np.bincount(one.piece, weights=one.value, minlength=things.pieces)


def _of(long_name: str, units: str = "1") -> dict[str, Any]:
    return {"long_name": long_name, "units": units}


def _curve(terms: Terms, last: float) -> Any:
    """Give hours, what they avoid at best and what one more avoids, as the worth of an hour elsewhere falls."""
    most = float(gain_of_more(terms, np.zeros(terms.pieces)).max(initial=0.0))
    if most <= 0.0:
        return np.zeros((3, 1))
    least = min(_DOWN_TO * most, 0.5 * last)  # beyond the hours at hand
    points = []
    for worth in np.geomspace(most, max(least, 1e-12 * most), _POINTS):
        hours = hours_until(terms, worth)
        points.append((hours.sum(), gained(terms, hours).sum(), worth))
    return np.array(points).T


def _looked(found: Found) -> Any:
    """Give the share of each piece that the survey looked at, where what was learned lies beside the start."""
    folder = found.asked.folder
    if folder is None or not (folder / LEARNED_FILE).exists():
        return None
    with xr.open_dataset(folder / LEARNED_FILE, engine="h5netcdf") as learned:
        looked = np.asarray(learned["looked"].values) > 0
    of_cell = found.pieces.of_cell
    if looked.size != of_cell.size:
        return None
    inside = of_cell >= 0
    ground = found.asked.experiment.site.plantable.ravel()[inside]
    count = len(found.pieces.names)
    area = np.bincount(of_cell[inside], weights=ground, minlength=count)
    return np.bincount(of_cell[inside], weights=ground * looked.ravel()[inside], minlength=count) / area


def _attributes(found: Found) -> dict[str, Any]:
    asked, terms, things = found.asked, found.terms, found.things
    experiment, start = asked.experiment, asked.world.start
    assert start is not None
    notices = dict.fromkeys(text for text in (experiment.notice, experiment.site.notice, start.notice) if text)
    best = float(gained(terms, share_out(terms, asked.hours)).sum())
    there = len(np.unique(things.world))
    scout: Treatment = next(one for one in asked.world.treatments if one.name == "scout")
    return {
        "Conventions": CONVENTIONS,
        "title": experiment.title,
        "notice": " ".join(notices),
        "source": f"spreadsim {spreadsim.__version__}",
        "seed": asked.seed,
        "hours": asked.hours,
        "hours_used": float(found.hours.sum()),
        "visit_minutes": 60.0 * asked.step,
        "horizon": asked.horizon,
        "season": asked.season,
        "size": asked.size,
        "columns": " ".join(found.pieces.columns),
        "rows": " ".join(found.pieces.rows),
        "strategy": asked.done,
        "then": asked.then,
        "years": start.years,
        "learned": int(asked.folder is not None or experiment.start is not None),
        "surveyed": start.surveyed,
        "worlds": things.worlds,
        "worlds_with_some": there,
        "weighed": list(found.weighed),
        "weights": [float(weight) for weight in found.weighed.values()],
        "ordered": int(not asked.goals.weights),
        "first_goal": next(iter(asked.goals.order), ""),
        "left_out": [name for name in asked.goals.weights if name not in found.weighed],
        "score": float(_unseen(things, _weights(found)).sum()),
        "score_avoided": float(gained(terms, found.hours).sum()),
        "score_at_best": best,
        "score_can_be_avoided": float(terms.value.sum()) if found.weighed else 0.0,
        "score_by_presence": float(gained(terms, found.by_presence).sum()),
        "avoided_range": list(found.sure.avoided),
        "score_range": list(found.sure.at_all),
        "many_first": found.sure.many,
        "cautions": "\n".join(scout.cautions),
    }


def _weights(found: Found) -> Any:
    return _signs() * [found.weighed.get(measure.name, 0.0) for measure in MEASURED]
