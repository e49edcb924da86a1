"""What is worth a look in an experiment that can be read: warnings, which stop nothing."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from spreadsim.inputs.experiment import Experiment
from spreadsim.inputs.hosts import cells_of
from spreadsim.inputs.site import Site
from spreadsim.inputs.strategy import Strategy
from spreadsim.inputs.survey_remarks import remarks_on_survey
from spreadsim.schema import SEASONS

FAR_APART = 0.1  # difference between a steward's total and the map's that is worth a warning
SLOW = 10.0  # factor on hours beyond which a unit is as good as out of reach; assumed
_SEVERAL = 5  # hosts from which a pattern in their coordinates says something
_MOST_NAMED = 3
TITLES = {
    "area": "area",
    "mat_area": "mat",
    "hosts": "hosts",
    "climbed": "climbed hosts (fruiting ones included)",
    "fruiting": "fruiting hosts",
}


def remarks_on(experiment: Experiment) -> list[str]:
    """Give everything about an experiment that should be looked at before it is run.

    Parameters
    ----------
    experiment : Experiment
        As it was read, so without errors.

    Returns
    -------
    list of str
        One sentence each: what was noticed while its site was read, then what does not fit together. Empty if
        nothing is odd.
    """
    site = experiment.site
    found = [*site.remarks, *_on_totals(site), *_on_vine(site), *_on_hosts(site), *_on_units(site)]
    found += [*remarks_on_survey(site), *_on_crews(experiment), *_on_work(experiment)]
    return list(dict.fromkeys(found))


def counted(site: Site) -> dict[str, float]:
    """Give what a steward may have totals of, as the site has it: areas in m2, and counts.

    The area is that of the ground that the vine can grow on.
    """
    square = site.cell_size**2
    return {
        "area": float(site.plantable.sum()) * square,
        "mat_area": float((site.mat * site.plantable).sum()) * square,
        "hosts": float(len(site.hosts)),
        "climbed": float((site.hosts.state >= 1).sum()),
        "fruiting": float((site.hosts.state == 2).sum()),
    }


def apart(site: Site, name: str, told: float) -> bool:
    """Tell whether a steward's total is more than a tenth away from what the site has.

    An area may be meant with water and paths in it, so that anything from plantable ground to the whole grid fits.
    """
    low = high = counted(site)[name]
    if name == "area":
        high = max(low, site.area)
    return told < (1 - FAR_APART) * low or told > (1 + FAR_APART) * high


def _on_totals(site: Site) -> Iterator[str]:
    has = counted(site)
    for name, told in site.totals:
        if apart(site, name, told):
            unit = " m2" if name in ("area", "mat_area") else ""
            yield (
                f"totals.{name}: you have {told:,.0f}{unit} of {TITLES[name]}, the map has {has[name]:,.0f}{unit}, "
                "more than 10 % apart"
            )


def _on_vine(site: Site) -> Iterator[str]:
    mat, climbed = bool((site.mat > 0).any()), bool((site.hosts.state >= 1).any())
    if not mat and not climbed:
        if not len(site.sources) and not site.background_seed and not site.boundary_mat.any():
            yield "vine: it is known nowhere (no mat, climbed host, seed source or mat across the boundary)"
        else:
            yield "vine: none is on the site, all of it has to come from outside"
    if climbed and not mat:
        yield "mat: none is mapped, though vine climbs: is the list of mats missing?"
    if mat and len(site.hosts) > _SEVERAL and not (site.hosts.state == 0).any():
        yield "hosts: every one has vine, so that it can climb no further: are the bare trees missing?"
    if mat and not len(site.hosts):
        yield "hosts: there is mat and nothing to climb, so it never fruits: is the list of trees missing?"
    ground = site.plantable > 0
    if ground.any() and (site.mat > 0)[ground].mean() > 0.9:
        yield "mat: it covers more than 90 % of the ground; is cover mixed up with canopy?"
    if (site.canopy > 0).any() and float(site.canopy.max()) <= 0.01:
        yield "canopy: all of it is at most 1 %: is a share of 0 to 1 divided by 100 once more?"


def _on_hosts(site: Site) -> Iterator[str]:
    hosts = site.hosts
    count = len(hosts)
    if not count:
        return
    points, times = np.unique(np.column_stack([hosts.x, hosts.y]), axis=0, return_counts=True)
    if (times > 1).any():
        named = ", ".join(f"({x:.1f}, {y:.1f})" for x, y in points[times > 1][:_MOST_NAMED])
        more = " and others" if (times > 1).sum() > _MOST_NAMED else ""
        again = int((times[times > 1] - 1).sum())
        yield f"hosts: {again:,} where another one stands already, at {named}{more}: listed twice?"
    if count >= _SEVERAL and max(np.ptp(hosts.x), np.ptp(hosts.y)) < min(2.0, site.cell_size):
        yield (
            f"hosts: all {count:,} lie within {max(np.ptp(hosts.x), np.ptp(hosts.y)):.2g} m: are x and y in degrees, "
            "or in kilometres?"
        )
    barrier = site.plantable.ravel() == 0
    off = barrier[hosts.cell]
    if not off.any() or any("where the vine cannot grow" in remark for remark in site.remarks):
        return
    named = ", ".join(f"({x:.1f}, {y:.1f})" for x, y in zip(hosts.x[off][:_MOST_NAMED], hosts.y[off], strict=False))
    more = " and others" if off.sum() > _MOST_NAMED else ""
    fits = (hosts.y <= site.width) & (hosts.x <= site.height)
    swapped = cells_of(hosts.y[fits], hosts.x[fits], site.ny, site.nx, site.cell_size)
    looks = off.mean() > 0.2 and fits.all() and barrier[swapped].mean() < 0.2 * off.mean()
    hint = ": x and y look swapped" if looks else ""
    yield f"hosts: of {count:,} {int(off.sum()):,} stand where the vine cannot grow, at {named}{more}{hint}"


def _on_units(site: Site) -> Iterator[str]:
    ground = site.plantable > 0
    for number, name in enumerate(site.unit_names, start=1):
        cells = site.unit == number
        if not cells.any():
            yield f'unit "{name}": it has no ground on the site'
        elif not (cells & ground).any():
            yield f'unit "{name}": the vine can grow nowhere in it'
        elif float(site.access[cells & ground].min()) >= SLOW:
            least = float(site.access[cells & ground].min())
            yield f'unit "{name}": no access to speak of: work there takes {least:.3g} times the hours or more'
    without = ground & (site.unit == 0)
    if site.unit_names and without.any():
        share = without.sum() / ground.sum()
        yield f"units: {100 * share:.2g} % of the ground lies in none of them; tasks with units never come there"


def _on_crews(experiment: Experiment) -> Iterator[str]:
    tasks = [task for strategy in experiment.strategies for task in strategy.tasks]
    for crew in experiment.crews:
        if sum(crew.hours) == 0:
            yield f'crew "{crew.name}": it has 0 hours in every season'
        elif crew.turnout == 0:
            yield f'crew "{crew.name}": its turnout is 0, so nobody comes'
        named = [task for task in tasks if not task.crews or crew.name in task.crews]
        if tasks and not any(crew.may_do(experiment.treatment(task.treatment)) for task in named):
            yield f'crew "{crew.name}": no strategy has a task that it may do'
    if tasks and not experiment.crews:
        yield "crews: there are none, so no task is ever done"


def _on_work(experiment: Experiment) -> Iterator[str]:
    acting = [strategy for strategy in experiment.strategies if strategy.tasks]
    if not acting:
        yield "strategies: none has a task, so no action is compared with nothing"
    for own in experiment.treatments:
        if experiment.crews and not any(crew.may_do(own) for crew in experiment.crews):
            yield f'treatment "{own.name}": no crew may do it'
    for strategy in acting:
        yield from _on_tasks(experiment, strategy)


def _on_tasks(experiment: Experiment, strategy: Strategy) -> Iterator[str]:
    for task in strategy.tasks:
        treatment = experiment.treatment(task.treatment)
        seasons = task.seasons_for(treatment)
        at = f'strategy "{strategy.name}", task "{task.label}"'
        workers = [crew for crew in experiment.crews if not task.crews or crew.name in task.crews]
        hours = [dict(zip(SEASONS, crew.hours, strict=True)) for crew in workers if crew.may_do(treatment)]
        if workers and not any(one[season] for one in hours for season in seasons):
            yield f"{at}: the crews that may do it have no hours in {' and '.join(seasons)}"
        days = dict(zip(SEASONS, experiment.weather.fit_days, strict=True))
        if treatment.needs_fit_weather and not any(days[season] for season in seasons) and task.instead is None:
            yield f"{at}: no day is fit for it in {' and '.join(seasons)}, and nothing is done instead"
        if task.share == 0 or task.cap == 0:
            yield f"{at}: it may take 0 hours"
