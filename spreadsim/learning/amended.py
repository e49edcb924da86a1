"""A world put right by what a survey saw, so that it can go on from there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np

from spreadsim.inputs import Site
from spreadsim.learning.findings import Findings
from spreadsim.learning.lacking import greatest, hosts_lacking, patches_lacking
from spreadsim.learning.logged import as_logged
from spreadsim.learning.measure import Measure
from spreadsim.learning.overlooked import Rates
from spreadsim.learning.recorded import filled, place_of, typical
from spreadsim.learning.silence import Named, left, named
from spreadsim.learning.worlds import BARE, CLIMBING, World


class Then(NamedTuple):
    """One world at the survey, what of it the survey would name, and how it stood when that year was over."""

    world: World
    end: World  # the same where the survey was in the winter between two years
    patch: Any  # of new mat by cell with mat at the survey, -1 for the mats of the map
    end_patch: Any  # the same at the year's end
    found: Any  # chance that mat in the cell is found
    named: Named
    mat_kept: Any  # chance that it is there although the survey names nothing; see `with_chances`
    host_kept: Any


class Amended(NamedTuple):
    """What is not as the world has it."""

    cell: Any
    cell_cover: Any  # 0: gone
    cell_known: Any
    host: Any
    host_state: Any
    host_known: Any


def see_then(world: World, end: World, measure: Measure) -> Then:
    """Hold a world against the survey; all is kept, until `with_chances`."""
    chances = measure.chances(world)
    end_patch = np.full(len(end.cells), -1)
    fresh = ~measure.zones.old[end.cells]
    end_patch[fresh] = measure.zones.patches(end.cells[fresh]).of_cell
    kept = np.ones(len(world.cells)), np.ones(len(world.hosts))
    return Then(world, end, chances.patch, end_patch, chances.mat, named(world, chances, measure), *kept)


def with_chances(worlds: Sequence[Then], weights: Any, cells: int, hosts: int, error: float) -> list[Then]:
    """Give worlds with the chance that each keeps what the survey names nothing of, see `left`.

    Parameters
    ----------
    worlds
        From `see_then`.
    weights
        Of each; they sum to 1.
    cells, hosts
        How many the site has.
    error
        Of the model.
    """

    def kept(places: list[Any], noted: list[Any], among: list[Any], size: int) -> list[Any]:
        lengths = [len(one) for one in places]
        weight = np.repeat(weights, lengths)
        flat = left(np.concatenate(places), weight, np.concatenate(noted), np.concatenate(among), size, error)
        return np.split(flat, np.cumsum(lengths)[:-1])

    noted = [one.named.mat for one in worlds]
    mat = kept([one.world.cells for one in worlds], noted, [np.zeros(len(one)) for one in noted], cells)
    climbed = [np.flatnonzero(one.world.hosts != BARE) for one in worlds]
    both = list(zip(worlds, climbed, strict=True))
    on_hosts = kept(
        climbed, [one.named.hosts[it] for one, it in both], [one.named.among[it] for one, it in both], hosts
    )
    out = []
    for one, its_mat, its_hosts, which in zip(worlds, mat, on_hosts, climbed, strict=True):
        host_kept = np.ones(len(one.world.hosts))
        host_kept[which] = its_hosts
        out.append(one._replace(mat_kept=its_mat, host_kept=host_kept))
    return out


def amend(
    then: Then,
    rates: Rates,
    findings: Findings,
    measure: Measure,
    site: Site,
    luck: np.random.Generator,
    logged: Mapping[int, str],
) -> Amended:
    """Put a world right.

    What the survey would have named and did not is taken away; what it names is put where it is, and known; what it
    missed stays unknown; what the map lacked and the survey missed is put in.

    Parameters
    ----------
    then
        With its chances.
    rates
        How much the map lacked in this world, on average.
    findings, measure, site
        Of the survey, and the ground.
    luck
        Of this pick.
    logged
        What the log says of hosts that the survey has no record of, see `as_logged`; it goes before what the survey
        is silent about.
    """
    world, end = then.world, then.end
    for_patches = luck.random(int(then.patch.max(initial=-1)) + 1)
    for_hosts = luck.random((2, len(world.hosts)))
    together, years = float(luck.random()), measure.overlooked.years
    gone = np.append(for_patches, together)[then.patch] >= then.mat_kept
    seen = _Cells(then, gone)
    off = seen.gone_at_end()
    cells = [(end.cells[off], np.zeros(int(off.sum())), np.zeros(int(off.sum()), bool))]
    cells.append(seen.met(np.isin(world.cells, findings.mat_cells), together < then.found))
    some, cover = patches_lacking(world, rates, measure, site, years, luck)
    clear = ~np.isin(some, end.cells)
    cells.append((some[clear], cover[clear], np.zeros(int(clear.sum()), bool)))
    cells.append(_of_no_size(then, gone, findings, measure, site))
    cells.append(_recorded(then, gone, findings))
    lacking = hosts_lacking(world, rates, measure, site, luck)
    return Amended(*_last(cells), *_hosts(then, findings, for_hosts, lacking, site.hosts.state, logged))


class _Cells:
    """What is gone and what is known at a year's end, from what was so at the survey."""

    def __init__(self, then: Then, gone: Any) -> None:
        self.then, self.gone = then, gone
        self.here = np.isin(then.world.cells, then.end.cells)  # mat at the survey that is still there
        self.at = np.searchsorted(then.end.cells, then.world.cells[self.here])

    def gone_at_end(self) -> Any:
        """Tell which cells of the year's end are to be clear: those that were, and what grew from them alone."""
        then = self.then
        off = np.zeros(len(then.end.cells), bool)
        off[self.at] = self.gone[self.here]
        count = int(then.end_patch.max(initial=-1)) + 1
        lost, stays = np.zeros(count + 1, bool), np.zeros(count + 1, bool)
        np.logical_or.at(lost, then.end_patch[self.at], self.gone[self.here])
        np.logical_or.at(stays, then.end_patch[self.at], ~self.gone[self.here])
        return off | ((then.end_patch >= 0) & (lost & ~stays)[then.end_patch])

    def met(self, recorded: Any, found: Any) -> tuple[Any, Any, Any]:
        """Give mat that stays as it is and comes to be known: parts of the map's mats, and patches with a record."""
        then = self.then
        with_record = np.zeros(int(then.patch.max(initial=-1)) + 2, bool)
        np.logical_or.at(with_record, then.patch[recorded], True)
        with_record[-1] = False
        known = np.where(then.patch < 0, found | recorded, with_record[then.patch]) & ~self.gone
        at = self.at[known[self.here]]
        at = at[~then.end.known[at]]
        return then.end.cells[at], then.end.cover[at], np.ones(len(at), bool)


def _of_no_size(then: Then, gone: Any, findings: Findings, measure: Measure, site: Site) -> tuple[Any, Any, Any]:
    """Give patches of which only the place was recorded, as large as such patches are in this world."""
    points = findings.points[~np.isin(findings.points, then.world.cells[~gone])]
    living, cover = typical(then.world, then.patch, then.found, measure.area)
    laid = [filled(site, *place_of(site, point), living, max(cover, 1e-3)) for point in points.tolist()]
    cells = np.concatenate([some[0] for some in laid] or [np.zeros(0, "i8")])
    covers = np.concatenate([some[1] for some in laid] or [np.zeros(0)])
    new = ~measure.zones.old[cells]
    return cells[new], covers[new], np.ones(int(new.sum()), bool)


def _recorded(then: Then, gone: Any, findings: Findings) -> tuple[Any, Any, Any]:
    """Give mat that was recorded where the world has none, or another cover.

    Where the survey was within a year and the world had mat there, what came of it in the rest of the year stands.
    """
    cells, cover = findings.mat_cells, findings.mat_cover
    there = np.isin(cells, then.world.cells[~gone])
    there |= np.isin(cells, findings.points)  # laid out by `_of_no_size`
    stands = there & (np.isnan(cover) if then.world is then.end else True)
    put = ~stands
    most = greatest(then.world)
    return cells[put], np.minimum(np.where(np.isnan(cover[put]), most, cover[put]), most), np.ones(int(put.sum()), bool)


def _hosts(
    then: Then, findings: Findings, luck: Any, lacking: Any, mapped: Any, logged: Mapping[int, str]
) -> tuple[Any, Any, Any]:
    """Give hosts that are not as the world has them."""
    seen, state, known = then.world.hosts, then.end.hosts.copy(), then.end.hosts_known.copy()
    there = seen != BARE
    state[there & (luck[0] >= then.host_kept)] = BARE
    known |= there & (luck[1] * then.host_kept < then.named.among)  # if it is kept, it may be one that was counted
    bare = lacking[(seen[lacking] == BARE) & (state[lacking] == BARE)]
    state[bare], known[bare] = CLIMBING, False
    for host, told in findings.hosts.items():
        state[host] = then.end.hosts[host] if told == seen[host] else told
        known[host] = True
    forced = as_logged(state, known, mapped, logged)
    other = (state != then.end.hosts) | ((state != BARE) & (known != then.end.hosts_known))
    changed = np.flatnonzero(other | forced)
    return changed, state[changed], known[changed] & ((state != BARE) | forced)[changed]


def _last(parts: Sequence[tuple[Any, Any, Any]]) -> tuple[Any, Any, Any]:
    """Put lists of cells together, in order of cells; a later one goes before an earlier one."""
    cell, cover, known = (np.concatenate([part[k] for part in parts]) for k in range(3))
    cells, where = np.unique(cell[::-1], return_index=True)
    return cells, cover[::-1][where], known[::-1][where]
