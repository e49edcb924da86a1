"""An experiment in words: what was read, before anything is run."""

import textwrap

import numpy as np

from spreadsim.analysis.wording import Scale, percent
from spreadsim.inputs import units
from spreadsim.inputs.experiment import Experiment
from spreadsim.inputs.start import Start
from spreadsim.inputs.strategy import Strategy
from spreadsim.inputs.task import Task
from spreadsim.inputs.treatment import Treatment
from spreadsim.schema import SEASONS

WIDTH = 80
_BRIEF = 2  # cautions of each treatment where space is short


def describe(experiment: Experiment, *, system: str = "metric") -> str:
    """Describe an experiment: site, vine, crews, strategies, and every caution in full.

    Parameters
    ----------
    experiment
        What `read_experiment` gave.
    system
        Units to show, "metric" or "us".

    Returns
    -------
    str
        Lines of at most 80 characters.
    """
    parts = [fill(experiment.title), *(fill(notice) for notice in notices(experiment))]
    parts.append(_ground(experiment, system))
    parts.append(fill(f"Vine: {experiment.vine.title}. {_trust(experiment)}"))
    parts.append("\n".join(fill(line, "  ") for line in _crews(experiment)))
    for strategy in experiment.strategies:
        parts.append("\n".join(fill(line, "    ") for line in strategy_lines(experiment, strategy, system)))
    for treatment in used_treatments(experiment):
        lines = [f"{treatment.title} - cautions:", *(f"  {text}" for text in treatment.cautions)]
        parts.append("\n".join(fill(line, "    ") for line in lines))
    worlds = "world" if experiment.replicates == 1 else "worlds"
    first = experiment.first_year
    span = f"years {first + 1} to {experiment.years}" if first else f"{experiment.years} years"
    run = f"To run: {span}, {experiment.replicates:,} replicate {worlds}"
    run += f", seed {experiment.seed}"
    run += ", all parameters at their defaults." if experiment.fixed_parameters else "."
    if experiment.start is not None:
        run += f" {_learned(experiment.start)}"
    return "\n\n".join([*parts, fill(run)])


def _learned(start: Start) -> str:
    """Say what the runs begin from."""
    years = "one year" if start.years == 1 else f"{start.years} years"
    seen = f", as the survey of {start.surveyed} saw it" if start.surveyed else ""
    worlds = "one learned world" if start.worlds == 1 else f"{start.worlds:,} learned worlds"
    return (
        f"They begin from {worlds}, {years} after the map{seen}; what is told of the site above is as it was mapped. "
        f'The work done till then is "{start.strategy.name}".'
    )


def fill(text: str, indent: str = "") -> str:
    """Wrap a paragraph to 80 columns; later lines are indented."""
    return textwrap.fill(text, WIDTH, subsequent_indent=indent, break_on_hyphens=False)


def notices(experiment: Experiment) -> list[str]:
    """Give what must be said wherever results are shown: the experiment's notice and the site's."""
    told = (experiment.notice, experiment.site.notice, "" if experiment.start is None else experiment.start.notice)
    return list(dict.fromkeys(text for text in told if text))


def used_treatments(experiment: Experiment) -> list[Treatment]:
    """Give the treatments that any task uses, also on unfit days and on follow-up visits, once each."""
    names: dict[str, None] = {}
    for strategy in experiment.strategies:
        for task in strategy.tasks:
            follow_up = task.follow_up.treatment if task.follow_up else None
            names.update(dict.fromkeys(name for name in (task.treatment, task.instead, follow_up) if name))
    return [experiment.treatment(name) for name in names]


def brief_cautions(experiment: Experiment) -> list[str]:
    """Give the first cautions of each treatment that is used, each once."""
    texts = [text for treatment in used_treatments(experiment) for text in treatment.cautions[:_BRIEF]]
    return list(dict.fromkeys(texts))


def _ground(experiment: Experiment, system: str) -> str:
    site = experiment.site
    ground = float(site.plantable.sum()) * site.cell_size**2  # the grid is a rectangle around it
    area = Scale([ground], "area", system)
    cell, unit = units.display(site.cell_size, "length", system)
    infested = float(np.sum(site.mat * site.plantable)) * site.cell_size**2
    mat = Scale([infested], "area", system)
    climbed = int(np.sum(site.hosts.state >= 1))
    fruiting = int(np.sum(site.hosts.state == 2))
    lines = [
        f"Site: {site.title or 'without a name'}, {area.with_unit(area.text(ground))} in "
        f"{site.nx} x {site.ny} cells of {cell:.3g} {unit}.",
        f"  Living cover of mat: {mat.with_unit(mat.text(infested))}.",
        f"  Hosts: {len(site.hosts.x):,}, of which {climbed:,} climbed, of these {fruiting:,} fruiting.",
        f"  Sources of seed outside: {len(site.sources.x)}; units: {', '.join(site.unit_names) or 'none'}.",
    ]
    return "\n".join(fill(line, "    ") for line in lines)


def _trust(experiment: Experiment) -> str:
    known = [parameter for parameter in experiment.vine.parameters.values() if not parameter.solved]
    weak = sum(parameter.confidence in "AMP" for parameter in known)
    return f"{weak} of its {len(known)} parameters are assumed, from memory or from other species or places."


def _crews(experiment: Experiment) -> list[str]:
    lines = ["Crews:" if experiment.crews else "Crews: none."]
    for crew in experiment.crews:
        hours = ", ".join(f"{name} {spent:g}" for name, spent in zip(SEASONS, crew.hours, strict=True))
        may = "anything" if "all" in crew.may else ", ".join(crew.may)
        lines.append(f"  {crew.name}: hours {hours}; may do {may}{'; volunteers' if crew.volunteers else ''}.")
    return lines


def strategy_lines(experiment: Experiment, strategy: Strategy, system: str) -> list[str]:
    """Say what a strategy does: its name and why, then its tasks in their order."""
    lines = [f"Strategy: {strategy.name}." + (f" {strategy.why}" if strategy.why else "")]
    for place, task in enumerate(strategy.tasks, start=1):
        lines.append(f"  {place}. {', '.join(_task(experiment, task, system))}.")
    if strategy.tasks and not strategy.reserve_follow_up:
        lines.append("  No hours are set aside for follow-up.")
    return lines


def _task(experiment: Experiment, task: Task, system: str) -> list[str]:
    """Say what a task is, part by part; what is as usual is left out."""
    named = task.label if task.label == task.treatment else f"{task.label} ({task.treatment})"
    parts = [named, task.order_for(experiment.treatment(task.treatment))]
    if task.targets != "all":
        parts.append(f"{task.targets} hosts only")
    if task.years:
        last = task.years[1]
        parts.append(f"from year {task.years[0]}" + (f" to {last}" if last else ""))
    if task.seasons:
        parts.append(f"in {' and '.join(task.seasons)}")
    if task.units:
        parts.append(f"in {' and '.join(task.units)}")
    if task.share < 1:
        parts.append(f"at most {percent(task.share)} of the hours")
    if task.cap is not None:
        parts.append(f"at most {task.cap:g} h a season")
    if task.new_ground is not None:
        scale = Scale([task.new_ground], "area", system)
        parts.append(f"at most {scale.with_unit(scale.text(task.new_ground))} of new ground a year")
    if task.not_until:
        parts.append(f"only where there is {task.not_until}")
    if task.instead:
        parts.append(f"{task.instead} on unfit days")
    if task.follow_up:
        again = f" with {task.follow_up.treatment}" if task.follow_up.treatment else ""
        every, clean = task.follow_up.every, task.follow_up.clean
        parts.append(f"follow-up{again} every {every} seasons until clean {clean} times running")
    return parts
