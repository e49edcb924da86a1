"""Planned against done: a pair of bars for each task, season by season."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.layout_engine import ConstrainedLayoutEngine
from matplotlib.patches import Patch

from spreadsim.log.planned import CREW_HOURS, Row
from spreadsim.views.style import GREY, RC, SLIDE

_DONE, _EDGE = "#24507a", "#24507a"  # dark on white: grey paper tells them too
_MOST_LINES = 48  # with more, tasks of a season are drawn together
_LABEL = 32


def log_chart(rows: Sequence[Row], *, title: str = "", notice: str = "") -> Figure:
    """Draw planned hours against those worked, by season and task.

    Parameters
    ----------
    rows
        From `planned_against_done`; units of a task are drawn together.
    title, notice
        Of the experiment; what must be said wherever it is shown.

    Returns
    -------
    matplotlib.figure.Figure
        White bars are planned, dark ones below them done.
    """
    bars = _bars(rows)
    lines: list[tuple[str, float, float] | str] = []
    for season, here in bars.items():
        lines += [season, *here]
    height = max(4.0, 2.2 + 0.36 * len(lines))
    with mpl.rc_context(RC):
        # names of seasons, left of the axes, are not reckoned with
        figure = Figure(figsize=(SLIDE[0], height), layout=ConstrainedLayoutEngine(w_pad=0.2))
        axes = figure.subplots()
        _draw(axes, lines)
        axes.set_xlabel("hours of all people together")
        handles = [
            Patch(facecolor="white", edgecolor=_EDGE, lw=1.2, label="planned"),
            Patch(facecolor=_DONE, edgecolor=_EDGE, label="done"),
        ]
        figure.legend(handles=handles, loc="outside lower center", ncols=2)
        head = textwrap.shorten(f"Planned against done: {title}" if title else "Planned against done", 90)
        figure.suptitle(
            "\n".join([head, *textwrap.wrap(notice, 120)[:2]]), fontsize=15, x=0.01, ha="left", parse_math=False
        )
    return figure


def log_alt(rows: Sequence[Row]) -> str:
    """Say what the picture shows, for those who cannot see it."""
    told = [
        f"{season}: {', '.join(f'{task} {done:.0f} of {planned:.0f} h' for task, planned, done in here)}"
        for season, here in _bars(rows).items()
    ]
    return f"Hours done of those planned. {'; '.join(told)}"


def _bars(rows: Sequence[Row]) -> dict[str, list[tuple[str, float, float]]]:
    """Give task, planned hours and hours done by season; with very many tasks a season is one."""
    seasons: dict[str, dict[str, tuple[float, float]]] = {}
    many = len({(row.season, row.task) for row in rows}) > _MOST_LINES
    for row in rows:
        tasks = seasons.setdefault(row.season_name, {})
        name = "all tasks" if many else row.task
        planned, done = tasks.get(name, (0.0, 0.0))
        tasks[name] = (planned + row.planned_hours, done + row.hours)
    for tasks in seasons.values():
        if CREW_HOURS in tasks:  # they are planned for all of the season's work
            tasks[CREW_HOURS] = (tasks[CREW_HOURS][0], sum(done for _, done in tasks.values()))
    return {season: [(task, *both) for task, both in tasks.items()] for season, tasks in seasons.items()}


def _draw(axes: Axes, lines: Sequence[tuple[str, float, float] | str]) -> None:
    ticks, labels = [], []
    most = max((max(line[1:]) for line in lines if not isinstance(line, str)), default=0.0) or 1.0
    for place, line in enumerate(lines):
        if isinstance(line, str):
            axes.annotate(
                line[:1].upper() + line[1:], (0, place), xycoords=("axes fraction", "data"), xytext=(-6, 0),
                textcoords="offset points", ha="right", va="center", fontweight="bold", fontsize=13,
                annotation_clip=False,
            )  # fmt: skip
            axes.axhline(place - 0.5, color=GREY, lw=0.6)
            continue
        task, planned, done = line
        axes.barh(place - 0.19, planned, 0.34, facecolor="white", edgecolor=_EDGE, lw=1.2)
        axes.barh(place + 0.19, done, 0.34, facecolor=_DONE, edgecolor=_EDGE, lw=1.2)
        text = f"{_hours(done)} of {_hours(planned)} h" if planned else f"{_hours(done)} h, not planned"
        axes.annotate(text, (max(planned, done), place), xytext=(6, 0), textcoords="offset points", va="center")
        ticks.append(place)
        labels.append("\n".join(textwrap.wrap(task, _LABEL, max_lines=2, placeholder=" ...")))
    axes.set_yticks(ticks, labels, parse_math=False)
    axes.tick_params(axis="y", length=0)
    axes.set_ylim(len(lines) - 0.4, -0.6)
    axes.set_xlim(0, 1.25 * most)
    axes.grid(visible=False, axis="y")


def _hours(value: float) -> str:
    return f"{value:,.0f}" if value >= 10 or value == int(value) else f"{value:.1f}"
