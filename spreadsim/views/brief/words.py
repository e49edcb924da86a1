"""The words behind page one: the question, what was compared, the order of work, where it begins."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np

from spreadsim.analysis.headline import lower
from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.wording import Scale, percent
from spreadsim.inputs.strategy import Strategy
from spreadsim.inputs.task import kind_of_work
from spreadsim.schema import SEASONS
from spreadsim.views.brief.facts import Facts, shorten
from spreadsim.views.description import strategy_lines

if TYPE_CHECKING:
    from spreadsim.planning.briefing import Beginning

_MOST_UNITS = 4
# What the model has it that each kind of work is for; ODD.md says it at length.
_FOR: Mapping[str, str] = MappingProxyType(
    {
        "search": "unknown vine cannot be worked",
        "stems": "only climbing stems bear seed",
        "mat": "mats spread and climb again",
        "natives": "less room is left for vine",
        "sources": "seed comes from outside too",
    }
)


def question(facts: Facts) -> str:
    """Say what was asked."""
    site, decision = facts.experiment.site, facts.decision
    ground = site.cell_size**2 * site.plantable
    whole = float(ground.sum())  # the grid is a rectangle around it
    area = Scale([whole], "area", facts.system)
    mat_area = float(np.sum(site.mat * ground))
    mat = Scale([mat_area], "area", facts.system)
    climbed, fruiting = int((site.hosts.state >= 1).sum()), int((site.hosts.state == 2).sum())
    goals = decision.goals
    aim = f"is the best on {_then(list(goals.order)) or 'what counts'}"
    if goals.weights:
        parts = " + ".join(f"{weight:g} x {_then([name])}" for name, weight in goals.weights.items())
        aim = f"has the lowest weighted score ({parts}; areas in m2, lower is better)"
    limits = f", within the limits ({'; '.join(limit.words() for limit in goals.limits)})" if goals.limits else ""
    options = len(facts.names)
    mapped = " when it was mapped" if facts.first else ""
    return (
        f"{site.title or 'The site'} has {area.with_unit(area.text(whole))} of ground, with "
        f"{mat.with_unit(mat.text(mat_area))} under mats of {facts.experiment.vine.title}, {climbed:,} climbed hosts, "
        f"{fruiting:,} of them fruiting{mapped}. Which of {options} options {aim} over "
        f"{_when(facts)}{limits}?"
    )


def _when(facts: Facts) -> str:
    """Say over which years, and from what state."""
    if not facts.first:
        return f"{facts.years} years"
    return f"years {facts.first + 1} to {facts.years}, from the learned state at the end of year {facts.first}"


def compared(facts: Facts) -> list[tuple[str, str]]:
    """Give each strategy with what it does in a line or two."""
    told = []
    for strategy in facts.experiment.strategies:
        if strategy.name not in facts.names:
            continue
        if not strategy.tasks:
            text = "nobody does anything; the measure for all others"
        else:
            text = strategy.why or "; then ".join(dict.fromkeys(task.label for task in strategy.tasks))
        told.append((shorten(strategy.name), _whole_sentences(text, 80)))
    return told


def _whole_sentences(text: str, most: int) -> str:
    """Give the first sentences that fit; of a first one that doesn't, its beginning."""
    kept = ""
    for sentence in re.split(r"(?<=[.;!?])\s+", " ".join(text.split())):
        if len(kept) + len(sentence) + 1 > most:
            break
        kept = f"{kept} {sentence}".strip()
    return kept or textwrap.shorten(text, most, placeholder="...")


def in_full(facts: Facts, strategy: Strategy) -> tuple[str, list[str]]:
    """Give what a strategy is for, and its tasks in words."""
    first, *lines = strategy_lines(facts.experiment, strategy, facts.system)
    return first.removeprefix(f"Strategy: {strategy.name}.").strip(), [
        line.strip().split(". ", 1)[-1] for line in lines
    ]


def order_of_work(facts: Facts) -> dict[str, list[Any]]:
    """Give the tasks of the choice in their order: what each is for, its hours in the first seasons, and where."""
    if facts.chosen is None:
        return {"heads": [], "rows": []}
    told = facts.beginning
    whole = [work for work in told.work if work.unit is None] if told else []
    hours = {(work.season, work.task): _hours(work.hours) for work in whole}
    seasons = sorted({work.season for work in whole})
    heads = ["task, in this order", "what for", *(f"{SEASONS[s % 4]}, h" for s in seasons)]
    rows = []
    for t, task in enumerate(facts.chosen.tasks):
        treatment = facts.experiment.treatment(task.treatment)
        how = "" if task.label == treatment.title else f" ({lower(treatment.title)})"
        row = [f"{t + 1}. {shorten(task.label)}{how}", _FOR[kind_of_work(treatment)]]
        for season in seasons:
            row.append(hours.get((season, t), "-"))
        if facts.experiment.site.unit_names and told:
            row.append(_where(facts, told, t))
        rows.append(row)
    if facts.experiment.site.unit_names and told:
        heads.append("where, most first")
    return {"heads": heads, "rows": rows}


def _where(facts: Facts, told: Beginning, task: int) -> str:
    """Name the units that a task goes to in the first seasons, that with most hours first."""
    hours: dict[int, float] = {}
    for work in told.work:
        if work.unit and work.task == task:
            hours[work.unit] = hours.get(work.unit, 0.0) + work.hours[0]
    names = facts.experiment.site.unit_names
    most = sorted(hours, key=lambda unit: -hours[unit])
    if len(most) == len(names) > 1:
        return f"all units, most in {names[most[0] - 1]}"
    shown = ", ".join(names[unit - 1] for unit in most[:_MOST_UNITS])
    return (shown or "-") + (f", {len(most) - _MOST_UNITS} more" if len(most) > _MOST_UNITS else "")


def _hours(three: tuple[float, float, float]) -> str:
    middle, low, high = three
    scale = Scale([10.0], "hours") if high < 10 else Scale([100.0], "hours")
    return scale.text(middle) if low == high else f"{scale.text(middle)} ({scale.span(low, high)})"


def beginning_words(facts: Facts) -> list[str]:
    """Say of each kind of work in which units it begins when, and which are left for now."""
    told = facts.beginning
    if told is None:
        return []
    names = facts.experiment.site.unit_names
    if not names:
        return ["The site has no units: name some, and the brief says in which to begin."]
    lines = []
    for kind, what in (("stems", "climbing stems"), ("mat", "mats")):
        by_year: dict[int, list[str]] = {}
        for entry in told.entries:
            if entry.kind == kind and entry.unit:
                name = f"{names[entry.unit - 1]} ({percent(entry.share)})"
                by_year.setdefault(entry.year or 0, []).append(name)
        parts = [f"in year {year} in {', '.join(by_year[year])}" for year in sorted(by_year) if year]
        if parts:
            lines.append(f"Work on {what} begins {'; '.join(parts)}.")
        if 0 in by_year:
            lines.append(
                f"Left for now, with no work on {what} by year {told.first + told.years}: {', '.join(by_year[0])}."
            )
    return lines


def first_work(facts: Facts) -> list[list[str]]:
    """Give the work of the first two seasons by season, task and unit."""
    told = facts.beginning
    if told is None or facts.chosen is None:
        return []
    names = facts.experiment.site.unit_names
    rows = []
    for work in told.work:
        if work.unit is None:
            continue
        what = []
        if work.hosts[2] >= 0.5:
            what.append(f"{work.hosts[0]:.0f} hosts ({work.hosts[1]:.0f} to {work.hosts[2]:.0f})")
        if work.area[2] > 0:
            scale = Scale(work.area, "area", facts.system)
            what.append(f"{scale.with_unit(scale.text(work.area[0]))} ({scale.span(work.area[1], work.area[2])})")
        where = names[work.unit - 1] if work.unit else ("outside the units" if names else "the whole site")
        when = f"{SEASONS[work.season % 4]}, year {told.first + work.season // 4 + 1}"
        label = facts.chosen.tasks[work.task].label
        rows.append([when, label, where, _hours(work.hours), ", ".join(what)])
    return rows


def _then(names: list[str]) -> str:
    by_name = {measure.name: measure.title for measure in MEASURES}
    return ", then ".join(by_name.get(name, name.replace("_", " ")) for name in names)


def told_of(beginning: Beginning | None) -> str:
    """Say how many worlds were run again for the units by year."""
    if beginning is None:
        return ""
    return (
        f"{beginning.worlds} of the worlds, run again. Work begins in a unit in the first year in which it takes half "
        "a day (4 h) there, or half of its largest year if that is less; in brackets, in which share of these worlds "
        "by then."
    )
