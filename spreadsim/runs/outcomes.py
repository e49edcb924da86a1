"""Raw results of blocks as one labelled dataset."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Protocol

import numpy as np
import xarray as xr

import spreadsim
from spreadsim.inputs import Crew, Experiment, Strategy, Task, Treatment
from spreadsim.model.compiled import layout
from spreadsim.model.kernels.record import COVER_STEPS
from spreadsim.model.memory import REASONS
from spreadsim.model.pack_plan import in_order_of_use
from spreadsim.model.parameters import describe
from spreadsim.runs.engine import Block, Engine, World
from spreadsim.runs.sums import Sums
from spreadsim.schema import FIRST_YEAR, build_dataset

_COUNTS = ("climbed_hosts", "fruiting_hosts", "fallen_hosts", "known_fruiting_hosts", "sources_standing")
MEAN_MAPS = ("occupancy", "mean_cover")
BY_YEAR = "Ground under mat, hosts, seed, native cover, work and money by year, with the parameters that were drawn."
_KEYWORDS = "climbing vines, vegetation management, spread, simulation, Monte Carlo, comparison of strategies"
_FLOWS = ("seeds_produced", "seeds_exported", "new_patches")


def _with_missing_first_year(values: Any, first: int) -> Any:
    """Put a missing first year before the years of a flow that follow it; (replicates, years, ...)."""
    missing = np.full_like(values[:, :1], np.nan, dtype="f8")
    return np.concatenate([missing, values[:, first:].astype("f8")], axis=1)


def _material(world: World, task: Task, area: Any, visits: Any, parameters: Mapping[str, Any]) -> Any:
    """Money for material of one task: (replicates, years, 4), from area and hosts worked by treatment slot."""
    names = [task.treatment, task.follow_up.treatment if task.follow_up else None, task.instead]
    total = np.zeros(area.shape[:3])
    for slot, name in enumerate(names):
        if name is None:
            continue
        for role, amount in (("material_per_area", area), ("material_per_host", visits)):
            treatment = _find(world.treatments, name)
            price = parameters.get(f"{name}.{role}", np.full(area.shape[0], treatment.number(role)))
            total += price[:, None, None] * amount[..., slot]
    return total


def _call_out(crews: Sequence[Crew], hours: Any) -> Any:
    """What minimum charges add to wages, by task: (replicates, years, 4, tasks) from hours with crews last."""
    extra = np.zeros(hours.shape[:-1])
    for k, crew in enumerate(crews):
        if not crew.paid:
            continue
        worked = hours[..., k].sum(axis=-1, keepdims=True)
        short = np.where(worked > 0.0, np.maximum(0.0, crew.minimum_charge - worked * crew.price), 0.0)
        extra += short * hours[..., k] / np.where(worked > 0.0, worked, 1.0)
    return extra


def _find(treatments: Sequence[Treatment], name: str) -> Treatment:
    return next(treatment for treatment in treatments if treatment.name == name)


def _work(world: World, block: Block, most: int) -> dict[str, Any]:
    """Hours, cost, area and hosts by task, padded with missing tasks: (strategies, replicates, years, 4, tasks)."""
    n = block.replicates.size
    names = ("hours", "follow_up_hours", "cost", "match", "area_treated", "hosts_treated")
    first = world.first_year
    shape = (len(world.strategies), n, world.years + 1 - first, 4, most)
    work = {name: np.full(shape, np.nan) for name in names}
    paid = np.array([crew.price if crew.paid else 0.0 for crew in world.crews])
    unpaid = np.array([0.0 if crew.paid else crew.price for crew in world.crews])
    for s, strategy in enumerate(world.strategies):
        hours, area, visits = block.hours[s], block.amounts[s][..., 0], block.amounts[s][..., 1]
        called_out = _call_out(world.crews, hours.sum(axis=4))
        for t, task in enumerate(strategy.tasks):
            # hours are summed over crews in their order, so that the sum is the same bits every time
            by_crew = hours[:, :, :, t].sum(axis=3)
            money = (by_crew * paid).sum(axis=-1) + called_out[:, :, :, t]
            money += _material(world, task, area[:, :, :, t], visits[:, :, :, t], block.parameters)
            values = {
                "hours": by_crew.sum(axis=-1),
                "follow_up_hours": hours[:, :, :, t, 1].sum(axis=-1),
                "cost": money,
                "match": (by_crew * unpaid).sum(axis=-1),
                "area_treated": area[:, :, :, t].sum(axis=-1),
                "hosts_treated": visits[:, :, :, t].sum(axis=-1),
            }
            for name, value in values.items():
                work[name][s, ..., t] = _with_missing_first_year(value, first)
    return work


def _yearly(block: Block, first: int) -> dict[str, Any]:
    values = {}
    for i, name in enumerate(layout.OUTCOMES):
        column = block.yearly[..., first:, i].copy()
        if name in _FLOWS:
            column[..., 0] = np.nan
        values[name] = column.astype("i8") if name in _COUNTS else column
    return values


class Totals(Protocol):
    """Map sums over all replicates, wherever they are kept."""

    def total(self, strategy: int, slot: int) -> Sums:
        """Sums of one map (cells)."""


def map_layers(engine: Engine, totals: Totals, replicates: int) -> Iterator[tuple[int, int, dict[str, Any]]]:
    """Maps one by one: strategy, place of the year, and the layers (y, x) by name."""
    site, first = engine.world.site, engine.world.first_year
    for s in range(len(engine.plans)):
        for year in np.flatnonzero(engine.map_slot >= 0):
            sums = totals.total(s, int(engine.map_slot[year]))
            layers = {"occupancy": sums.occupied / replicates, "mean_cover": sums.cover / (COVER_STEPS * replicates)}
            yield s, int(year) - first, {name: layer.reshape(site.ny, site.nx) for name, layer in layers.items()}


def _maps(engine: Engine, block: Block, maps: str, totals: Totals | None) -> dict[str, Any]:
    site, world = engine.world.site, engine.world
    if maps == "none":
        return {}
    shape = (len(world.strategies), world.years + 1 - world.first_year, site.ny, site.nx)
    if totals is None:
        return {name: np.broadcast_to(np.float32(np.nan), shape) for name in MEAN_MAPS}
    values = {name: np.full(shape, np.nan, "f4") for name in MEAN_MAPS}
    for s, year, layers in map_layers(engine, totals, block.replicates.size):
        for name, layer in layers.items():
            values[name][s, year] = layer
    if maps == "replicate":
        values["mat_cover"] = block.cover[:, :, world.first_year :].reshape(*shape[:1], -1, *shape[1:])
    return values


def _names(strategies: Sequence[Strategy], most: int) -> Any:
    return [[task.label for task in s.tasks] + [""] * (most - len(s.tasks)) for s in strategies]


def _summary(experiment: Experiment, replicates: int, what: str) -> str:
    """Say in two sentences what a dataset is, for those who look for one."""
    site, first = experiment.site, experiment.first_year
    years = experiment.years - first
    later = f" from a learned state {first} years after the map on" if first else ""
    return (
        f"A simulation of {experiment.vine.title} on {site.ny * site.nx:,} cells of {site.cell_size:g} m over "
        f"{years} years{later}, in {replicates:,} replicate worlds that are the same for every strategy. {what}"
    )


def _notices(experiment: Experiment) -> tuple[str, str, str]:
    return experiment.notice, experiment.site.notice, "" if experiment.start is None else experiment.start.notice


def about(experiment: Experiment, replicates: Sequence[int], what: str = BY_YEAR) -> dict[str, Any]:
    """Who made a dataset, of what, and how: attributes after CF and ACDD; `what` says what is in it."""
    version = spreadsim.__version__
    said = {
        "title": experiment.title,
        "summary": _summary(experiment, len(replicates), what),
        "keywords": f"{_KEYWORDS}, {experiment.vine.name}",
        "source": f"spreadsim {version}, a simulation; it compares strategies under stated assumptions and does not "
        "forecast a place",
        "history": f"made by spreadsim {version} with seed {experiment.seed}, {len(replicates)} replicates "
        f"({replicates[0]} to {replicates[-1]})",
        "comment": " ".join(dict.fromkeys(text for text in _notices(experiment) if text)),
        "references": "spreadsim/model/ODD.md of the same version",
        "version": version,
        "product_version": version,
        "seed": experiment.seed,
        "currency": experiment.currency,
        "price_year": experiment.price_year or "",
        FIRST_YEAR: experiment.first_year or "",
        "crs": experiment.site.crs or "",
    }
    return {name: value for name, value in said.items() if value != ""}


def dataset(
    engine: Engine,
    block: Block,
    maps: str,
    totals: Totals | None,
    attrs: Mapping[str, Any],
    inputs: Mapping[str, Any] | None = None,
) -> xr.Dataset:
    """Label the results of a run, or of some of its replicates.

    Parameters
    ----------
    engine
        What ran.
    block
        Its replicates.
    maps
        "none", "mean" or "replicate".
    totals
        Map sums over all replicates of the run; None: the maps are left missing, and take no memory.
    attrs, inputs
        Attributes and embedded inputs of the dataset, see `inputs.embed`.

    Returns
    -------
    xarray.Dataset
        As registered in `schema.VARIABLES`.
    """
    world = engine.world
    site, first = world.site, world.first_year
    most = max(1, max(len(strategy.tasks) for strategy in world.strategies))
    values = _yearly(block, first) | _work(world, block, most) | _maps(engine, block, maps, totals)
    available = np.stack([_with_missing_first_year(rows.sum(axis=-1), first) for rows in block.available])
    values["hours_available"] = available
    values["hours_unspent"] = np.stack([_with_missing_first_year(rows, first) for rows in block.unspent])
    attributes = describe(world.vine, world.treatments, list(block.parameters))
    coords: dict[str, Any] = {
        "strategy": [strategy.name for strategy in world.strategies],
        "replicate": block.replicates,
        "year": np.arange(first, world.years + 1),
        "reason": REASONS,
        "task_name": _names(world.strategies, most),
    }
    if world.funds:
        coords["fund"] = [fund.name for fund in in_order_of_use(world.funds)]
        values["fund_left"] = np.stack([rows[:, first:] for rows in block.funds])
    if maps != "none":
        x0, y0 = site.origin
        coords["y"] = y0 + (site.ny - np.arange(site.ny) - 0.5) * site.cell_size
        coords["x"] = x0 + (np.arange(site.nx) + 0.5) * site.cell_size
    parameters = {name: (column, attributes[name]) for name, column in block.parameters.items()}
    return build_dataset(values, coords, attrs, parameters, inputs)
