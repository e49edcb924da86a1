"""Material that work takes, in money, volume and words."""

from collections.abc import Iterable

import numpy as np

from spreadsim.analysis.wording import Scale
from spreadsim.inputs import Treatment
from spreadsim.inputs.units import YARD
from spreadsim.planning.worklist.listed import Line, WorkList


def material(work: WorkList, line: Line) -> tuple[float, float]:
    """Money for material, and its volume in m3, for a line: medians by area and hosts, at the defaults."""
    one = work.strategy.tasks[line.task]
    follow = one.follow_up.treatment if one.follow_up else None
    names = (one.treatment, follow, one.instead)
    total = work.done.amounts[:, line.season, line.task].mean(axis=0)
    money = volume = 0.0
    for slot, name in enumerate(names):
        if name is None:
            continue
        treatment = work.experiment.treatment(name)
        area, hosts = (
            worked * (total[slot, k] / total[:, k].sum() if total[:, k].sum() > 0 else 0.0)
            for k, worked in enumerate((line.area[0], line.hosts[0]))
        )
        money += area * treatment.number("material_per_area") + hosts * treatment.number("material_per_host")
        volume += area * treatment.number("volume_per_area")
    return float(np.round(money, 2)), float(np.round(volume, 2))


def material_text(treatments: Iterable[Treatment], area: float, system: str = "metric") -> str:
    """Say what material some treatments take for an area in m2; herbicide is the label's business.

    Volumes are in m3, or in cubic yards where `system` is "us".
    """
    found = []
    for treatment in treatments:
        volume = area * treatment.number("volume_per_area")
        if treatment.herbicide:
            found.append("herbicide as the product label says")
        elif volume > 0:
            amount = f"{_about(volume)} m3" if system == "metric" else f"{_about(volume / YARD**3)} yd3"
            found.append(f"{amount} for {treatment.name}")
        elif treatment.number("cover_years") > 0 and area > 0:
            found.append(f"{treatment.name} for {area_text(area, system)}, and what overlaps")
        elif "natives" in treatment.acts_on and area > 0:
            found.append(f"native plants for {area_text(area, system)}")
    return "; ".join(dict.fromkeys(found))


def area_text(value: float, system: str) -> str:
    """An area in two digits; a crew measures no better."""
    scale = Scale([value], "area", system)
    one = scale.factor
    return scale.with_unit(_about(value * one))


def _about(value: float) -> str:
    """A number in two digits."""
    return f"{float(f'{value:.2g}'):,.10g}"


def task_material(work: WorkList, season: int, task: int, area: float, system: str = "metric") -> str:
    """Say what material a task takes in a season for an area, shared among its treatments as in the simulation."""
    one = work.strategy.tasks[task]
    slots = (one.treatment, one.follow_up.treatment if one.follow_up else None, one.instead)
    ground = work.done.amounts[:, season, task, :, 0].mean(axis=0)
    used = work.done.amounts[:, season, task].sum(axis=(0, 2)) > 0
    found = []
    for slot, name in enumerate(slots):
        if name and used[slot]:
            part = area * (float(ground[slot] / ground.sum()) if ground.sum() > 0 else 0.0)
            found.append(material_text([work.experiment.treatment(name)], part, system))
    return "; ".join(dict.fromkeys(filter(None, found)))
