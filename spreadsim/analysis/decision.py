"""From outcomes to a choice: which strategy, why, how surely, and what would be most worth knowing."""

from dataclasses import dataclass, replace

import numpy as np
import xarray as xr

from spreadsim.analysis.decision_facts import facts_of
from spreadsim.analysis.goals import DEFAULT, Goals
from spreadsim.analysis.outcomes import base_seed, check_confidence, strategy_names
from spreadsim.analysis.own_goals import goals_in
from spreadsim.analysis.pairs import simultaneous
from spreadsim.analysis.regret import regret
from spreadsim.analysis.scoring import broken, scores
from spreadsim.analysis.surveys import Looking
from spreadsim.errors import InputError


@dataclass(frozen=True)
class Decision:
    """A choice among the strategies of a dataset, and all that it rests on.

    Attributes
    ----------
    choice : str
        The strategy chosen.
    reason : str
        "only one within the limits", "best within the limits", "best", "breaks limits least".
    next : str
        The strategy that comes after it; empty with one strategy.
    told_apart : bool
        Whether the interval of the difference between the two, corrected for all options, excludes 0.
    goals : Goals
        What was asked.
    scored : xarray.Dataset
        As `scoring.scores`.
    options : xarray.Dataset
        By strategy, as `regret.regret` among those that the choice is between (the others are missing);
        `mean` of all; `ahead`, `ahead_low`, `ahead_high`: by how much the score lies above that of the
        choice, intervals that hold together; `within`, whether it keeps the limits often enough; `rank`
        from 0. Attributes `perfect_information`, `_low` and `_high` as `regret.regret`.
    broken : xarray.Dataset
        By (limit, strategy): `share`, `low`, `high`.
    knowing : xarray.Dataset
        As `knowing.value_of_knowing`, among the options within limits; empty where worlds or parameters are too few.
    together : dict
        Value of knowing the eight most worth knowing together, with its error; empty likewise.
    sensitivity : xarray.Dataset
        As `sensitivity.sensitivity`, of the difference between the next and the choice; empty likewise.
    survey : xarray.Dataset
        As `knowing.survey_value`, of measuring the facts worth knowing before the first work season; empty likewise,
        and where no fact is worth knowing.
    """

    choice: str
    reason: str
    next: str
    told_apart: bool
    goals: Goals
    scored: xr.Dataset
    options: xr.Dataset
    broken: xr.Dataset
    knowing: xr.Dataset
    together: dict[str, float]
    sensitivity: xr.Dataset
    survey: xr.Dataset


def decide(
    dataset: xr.Dataset, goals: Goals | None = None, *, confidence: float = 0.9, looking: Looking | None = None
) -> Decision:
    """Choose among the strategies by the goals given.

    Parameters
    ----------
    dataset
        What `compare` returned, two strategies or more.
    goals
        Of `make_goals` or `read_goals`; if not given, those of the experiment that the dataset came from; if it has
        none, as little seed leaving the site as possible, and among strategies that cannot be told apart in that, as
        little infested ground. Limits alone go with these.
    confidence
        Of all intervals.
    looking
        What measuring before the first work season would see and take; None: `Looking()`.

    Returns
    -------
    Decision
        Strategies that break any limit more often than it allows are out; of the rest the one with the
        lowest mean score. With an order of goals, each goal passes on those that cannot be told from
        its best (by intervals that hold for all of them together), and the score is that of the goal
        that decides. If none keeps the limits, the one that breaks its worst limit in the fewest worlds.

    Raises
    ------
    InputError
        Goals that the dataset has no outcomes for.
    """
    check_confidence(confidence)
    if "strategy" not in dataset.dims:
        raise InputError("dataset: found no dimension strategy, allowed what compare returned, with strategies")
    goals = goals or goals_in(dataset) or DEFAULT
    goals = goals if goals.weights or goals.order else replace(goals, order=DEFAULT.order)
    names = list(strategy_names(dataset))
    seed = base_seed(dataset)
    limits = _limits(dataset, goals, confidence)
    allowed = np.array([limit.often for limit in goals.limits])[:, None]
    kept = limits["share"].to_numpy() <= allowed if len(allowed) else np.ones((1, len(names)), bool)
    within = [bool(column.all()) for column in kept.T]
    ranked, contenders, deciding = _ranked(dataset, goals, names, within, limits, confidence, seed)
    scored = scores(dataset, deciding)
    table = regret(scored["score"].sel(strategy=contenders), confidence=confidence, seed=seed)
    table = table.reindex(strategy=names).assign(mean=scored["score"].mean("replicate"))
    ahead = (scored["score"] - scored["score"].sel(strategy=ranked[0])).transpose("replicate", "strategy").to_numpy()
    low, high = simultaneous(ahead, confidence, seed)
    table = table.assign(
        ahead=("strategy", ahead.mean(axis=0)),
        ahead_low=("strategy", low),
        ahead_high=("strategy", high),
        within=("strategy", within),
        rank=("strategy", [ranked.index(name) for name in names]),
    )
    reason = "best"
    if goals.limits:
        reason = {0: "breaks limits least", 1: "only one within the limits"}.get(sum(within), "best within the limits")
    following = ranked[1] if len(ranked) > 1 else ""
    told = bool(following) and float(table["ahead_low"].sel(strategy=following)) > 0
    facts = facts_of(dataset, scored["score"], contenders, (ranked[0], following), looking or Looking(), seed)
    return Decision(ranked[0], reason, following, told, goals, scored, table, limits, *facts)


def _limits(dataset: xr.Dataset, goals: Goals, confidence: float) -> xr.Dataset:
    names = strategy_names(dataset)
    tables = [broken(dataset, limit, confidence) for limit in goals.limits]
    columns = {
        key: (("limit", "strategy"), np.array([table[key] for table in tables]).reshape(len(tables), len(names)))
        for key in ("share", "low", "high")
    }
    return xr.Dataset(columns, {"limit": [limit.words() for limit in goals.limits], "strategy": list(names)})


def _ranked(
    dataset: xr.Dataset,
    goals: Goals,
    names: list[str],
    within: list[bool],
    limits: xr.Dataset,
    confidence: float,
    seed: int,
) -> tuple[list[str], list[str], Goals]:
    """Strategies from the best, those that the last goal is to choose among, and the goals that the score is of."""
    deciding = goals if goals.weights else _first(goals, goals.order[0])
    means = scores(dataset, deciding)["score"].mean("replicate").to_numpy()
    if goals.limits and not any(within):
        worst = limits["share"].max("limit").to_numpy()
        order = [names[at] for at in np.lexsort((means, worst))]
        return order, order[:1], deciding
    first = [names[at] for at in np.argsort(means, kind="stable") if within[at]]
    out = [names[at] for at in np.argsort(means, kind="stable") if not within[at]]
    if goals.weights:
        return first + out, first, deciding
    ties = first
    for name in goals.order:
        deciding = _first(goals, name)
        values = scores(dataset, deciding)["score"].sel(strategy=ties)
        places = np.argsort(values.mean("replicate").to_numpy(), kind="stable")
        ranked = [ties[at] for at in places]
        above = (values - values.sel(strategy=ranked[0])).transpose("replicate", "strategy").to_numpy()
        low, _ = simultaneous(above, confidence, seed)
        tied = [one for one in ranked if not low[ties.index(one)] > 0]
        first = ranked + [one for one in first if one not in ranked]
        if len(tied) == 1 or name == goals.order[-1]:
            break
        ties = tied
    return first + out, ties, deciding


def _first(goals: Goals, name: str) -> Goals:
    return replace(goals, order=(name,))
