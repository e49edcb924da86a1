"""The brief as one HTML file: page one for a board, page two with what it rests on, then appendices."""

from __future__ import annotations

from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

import matplotlib as mpl
import numpy as np
import xarray as xr
from matplotlib.figure import Figure

from spreadsim.analysis.decision import Decision
from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.sentences import level
from spreadsim.analysis.summary import NO_ACTION, summarise
from spreadsim.analysis.wording import percent, scale_of, title_in
from spreadsim.inputs.experiment import Experiment
from spreadsim.views.brief import options, rests, words
from spreadsim.views.brief.answer import answer
from spreadsim.views.brief.at_once import all_at_once
from spreadsim.views.brief.charts import few_outcomes, hours_by_year
from spreadsim.views.brief.entry_map import entry_map, small_site_map
from spreadsim.views.brief.facts import Facts, shorten
from spreadsim.views.description import brief_cautions, notices, used_treatments
from spreadsim.views.maps import occupancy_maps
from spreadsim.views.pages import hash_of, picture, templates
from spreadsim.views.site_map import site_map
from spreadsim.views.style import RC
from spreadsim.views.through_time import through_time

if TYPE_CHECKING:
    from spreadsim.planning.briefing import Beginning, Stopped

_HERE = Path(__file__).parent
_DOTS = 110  # per inch, of maps


def brief_page(
    dataset: xr.Dataset,
    experiment: Experiment,
    decision: Decision,
    *,
    beginning: Beginning | None = None,
    stopped: Stopped | None = None,
    under: int | None = None,
    system: str = "metric",
) -> str:
    """Make the brief.

    Parameters
    ----------
    dataset
        What `compare` returned.
    experiment
        What was compared.
    decision
        From `decide`.
    beginning
        Of the strategy chosen, from `planning.briefing.beginning`; None: no map of units by year.
    stopped
        From `planning.briefing.if_money_stops`; None: nothing is said of it.
    under
        Number of fruiting hosts to stay under; None: that of a limit in the goals, or a quarter of today's.
    system
        Units to show, "metric" or "us".

    Returns
    -------
    str
        HTML that needs nothing else. Each sentence that states a result is computed; where there is no result there is
        no sentence.
    """
    named = dataset.assign_attrs({"title": experiment.title, "currency": experiment.currency} | dict(dataset.attrs))
    number = under or _under(named, experiment, decision)
    facts = Facts(named, experiment, decision, summarise(named), beginning, stopped, number, system)
    style = (_HERE / "brief.css").read_text(encoding="utf-8")
    return (
        templates(_HERE, trim_blocks=True, lstrip_blocks=True)
        .get_template("brief.html")
        .render(
            style=style,
            style_hash=hash_of(style),
            title=experiment.title,
            site=experiment.site.title,
            notices=notices(experiment),
            worlds=facts.worlds,
            years=facts.years,
            first=facts.first,
            **_page_one(facts),
            **_page_two(facts),
            **_appendices(facts),
        )
    )


def _under(dataset: xr.Dataset, experiment: Experiment, decision: Decision) -> int:
    """Give the bound of a limit on fruiting hosts, else a quarter of today's, 1 at least."""
    for limit in decision.goals.limits:
        if limit.outcome == "fruiting_hosts" and limit.under is not None:
            return max(1, int(limit.under))
    fruiting = float((experiment.site.hosts.state == 2).sum())
    if experiment.first_year and "fruiting_hosts" in dataset:
        fruiting = float(dataset["fruiting_hosts"].isel(year=0).mean())  # the map is older
    return max(1, round(0.25 * fruiting))


def _page_one(facts: Facts) -> dict[str, Any]:
    hours = hours_by_year(facts)
    units = facts.beginning is not None and bool(facts.experiment.site.unit_names)
    return {
        "answer": answer(facts),
        "entry_map": _png(entry_map(facts.experiment.site, facts.beginning, facts.system), 170)
        if units and facts.beginning is not None
        else "",
        "entry_words": words.beginning_words(facts),
        "entry_note": words.told_of(facts.beginning),
        "rerun": facts.beginning.worlds if facts.beginning else 0,
        "alike": all_at_once(facts),
        "options": options.options(facts),
        "stopped": facts.stopped,
        "hours_chart": _svg(hours) if hours is not None else "",
        "choice": shorten(facts.decision.choice, 50),
        "chosen": facts.chosen is not None,
        "recommended": len(facts.names) > 1 and not facts.nothing_sure,
    }


def _page_two(facts: Facts) -> dict[str, Any]:
    experiment = facts.experiment
    several = len(facts.names) > 1
    return {
        "question": words.question(facts),
        "small_map": _png(small_site_map(experiment.site, facts.system), 170),
        "compared": words.compared(facts),
        "through_time": _svg(few_outcomes(facts)),
        "pairs": options.pairs(facts) if several and facts.worlds > 1 else None,
        "seasons": options.by_season(facts, facts.decision.choice, unpaid=False) if facts.chosen is not None else None,
        "order": words.order_of_work(facts),
        "work": words.first_work(facts),
        "cautions": brief_cautions(experiment),
        "change": rests.would_change(facts),
        "assumed": rests.assumed(facts),
        "stopped_words": rests.stopped_words(facts),
        "repeat": rests.repeat(facts),
    }


def _appendices(facts: Facts) -> dict[str, Any]:
    experiment = facts.experiment
    shown = tuple(name for name in (NO_ACTION, facts.decision.choice) if name in facts.names)
    where = "occupancy" in facts.dataset
    choice, works = facts.decision.choice, facts.chosen is not None
    several = len(facts.names) > 1 and facts.worlds > 1
    maps = occupancy_maps(
        facts.dataset, site=experiment.site, system=facts.system, strategies=tuple(dict.fromkeys(shown))
    ) if where else None  # fmt: skip
    return {
        "site_map": _png(site_map(experiment.site, system=facts.system, bare=False), _DOTS),
        "strategies": [
            (strategy.name, *words.in_full(facts, strategy))
            for strategy in experiment.strategies
            if strategy.name in facts.names and strategy.tasks
        ],
        "all_outcomes": _svg(through_time(facts.dataset, system=facts.system)),
        "maps": _png(maps, _DOTS) if maps is not None else "",
        "mapped": " and ".join(dict.fromkeys(shown)),
        "levels": _levels(facts),
        "confidence": percent(float(facts.summary.attrs["confidence"])),
        "seasons_all": options.by_season(facts, choice, unpaid=True) if works else None,
        "pairs_all": options.pairs(facts, most=len(facts.names)) if several else None,
        "tasks": options.by_task(facts, choice) if works else None,
        "all_cautions": [(one.title, one.cautions) for one in used_treatments(experiment)],
        "options_all": options.options(facts, most=len(facts.names)),
    }


def _levels(facts: Facts) -> list[tuple[str, list[tuple[str, str, str]]]]:
    """Every measure by strategy: mean and range, and the difference to no action."""
    told = []
    for measure in MEASURES:
        if not facts.names_of(measure.name):
            continue
        scale = scale_of(facts.summary, measure, facts.system)
        rows = []
        for name in facts.names:
            apart = ""
            if NO_ACTION in facts.names and name != NO_ACTION:
                pair = facts.summary.sel(measure=measure.name, strategy=name, other=NO_ACTION)
                ends = (float(pair["difference_low"]), float(pair["difference_high"]))
                apart = scale.text(float(pair["difference"]), sign=True)
                apart += f" ({scale.span(*ends, sign=True)})" if np.isfinite(ends).all() else ""
            rows.append((name, level(facts.summary, measure, name, scale), apart))
        told.append((title_in(facts.summary, measure), rows))
    return told


def _laid_out(figure: Figure) -> Figure:
    """Settle the layout once: it takes as long as drawing, and would be done for each."""
    layout = figure.get_layout_engine()
    if layout is not None:
        layout.execute(figure)
        figure.set_layout_engine(None)
    return figure


def _svg(figure: Figure) -> str:
    """A chart as a picture of lines, its letters as outlines: it looks the same on every machine."""
    file = BytesIO()
    with mpl.rc_context({**RC, "svg.fonttype": "path"}):
        _laid_out(figure).savefig(file, format="svg", facecolor="white", metadata={"Date": None, "Creator": None})
    return picture(file.getvalue(), "svg+xml")


def _png(figure: Figure, dots: int) -> str:
    file = BytesIO()
    _laid_out(figure).savefig(file, format="png", dpi=dots, facecolor="white", metadata={"Software": None})
    return picture(file.getvalue(), "png")
