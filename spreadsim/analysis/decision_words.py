"""A decision in sentences: the choice, its reason, how sure it is, what it could cost, and what is worth knowing."""

import re
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import xarray as xr

from spreadsim.analysis.decision import Decision
from spreadsim.analysis.fact_words import plain_fact
from spreadsim.analysis.goals import NET_PRESENT_COST
from spreadsim.analysis.headline import shares_of
from spreadsim.analysis.outcomes import MEASURES, unit_of
from spreadsim.analysis.own_goals import title_of
from spreadsim.analysis.pairs import HOW_CORRECTED
from spreadsim.analysis.wording import Scale, percent, surety

_BY_NAME = {measure.name: measure for measure in MEASURES}
_FACTS = 5


def decision_sentences(dataset: xr.Dataset, decision: Decision, system: str = "metric") -> list[str]:
    """Say what to do, why, and how sure it is, in the units of a system, "metric" or "us".

    Returns
    -------
    list of str
        The choice with its reason; how sure; what is given up if it is wrong; what knowing more could
        bring; and how the intervals were corrected.
    """
    scale = score_scale(dataset, decision, system)
    told = [_choice(decision), _sure(decision, scale), _wrong(decision, scale), _limits(decision)]
    told += [knowing_sentence(dataset, decision, system), survey_sentence(dataset, decision, system)]
    told.append(_corrected(decision))
    return [sentence for sentence in told if sentence]


def number(value: float) -> str:
    """Give a number to three digits, without powers of ten: "12,300", "0.0412"."""
    if value != value:
        return "-"
    if abs(value) >= 100:
        return f"{float(f'{value:.3g}'):,.0f}"
    return f"{float(f'{value:.3g}') + 0.0:g}" if abs(value) >= 1e-4 or not value else f"{value:.2e}"


def score_unit(dataset: xr.Dataset, decision: Decision) -> str:
    """Name what the score is in: the outcome and its unit with an order, "points of the score" with weights."""
    if decision.goals.weights:
        return "points"
    name = str(decision.scored["outcome"].values[0])
    if name == NET_PRESENT_COST:
        return str(dataset.attrs.get("currency") or "money")
    measure = _BY_NAME[name]
    if measure.kind in ("hosts", "seeds", "patches"):
        return measure.kind
    if measure.kind == "money":
        return f"{dataset.attrs.get('currency') or 'money'} a year"
    return {"m2": "m²", "h year-1": "h a year", "1": "of 1"}.get(unit_of(dataset, measure), unit_of(dataset, measure))


def score_title(decision: Decision) -> str:
    """Name the score for people."""
    if decision.goals.weights:
        return "weighted score"
    name = str(decision.scored["outcome"].values[0])
    return "net present cost" if name == NET_PRESENT_COST else _BY_NAME[name].title


@dataclass(frozen=True)
class ScoreScale:
    """How scores are shown: in which unit, and how many of it one of the dataset's is."""

    unit: str
    factor: float = 1.0

    def text(self, value: float) -> str:
        """Give a number in the unit, without it."""
        return number(value * self.factor)


def score_scale(dataset: xr.Dataset, decision: Decision, system: str = "metric") -> ScoreScale:
    """Give the unit to show scores in: areas in hectares or acres where they are large, all else as `score_unit`."""
    unit = score_unit(dataset, decision)
    if unit != "m²":
        return ScoreScale(unit)
    scale = Scale(decision.options["mean"].values, "area", system)
    return ScoreScale(scale.unit, scale.factor)


def fact_title(dataset: xr.Dataset, parameter: str) -> str:
    """Give a parameter in words, with its unit and the first clause of what its file says of it."""
    attrs: Mapping[str, object] = dataset[parameter].attrs
    process, _, name = parameter.partition(".")
    unit = str(attrs.get("units", "1"))
    words = f"{process}: {name.replace('_', ' ')}" + ("" if unit == "1" else f", {unit}")
    # what files say is a note of several clauses; a parameter without one is called by its own name
    clause = re.split(r"; |\. |: ", str(attrs.get("long_name", "")).strip(), maxsplit=1)[0]
    return words if clause in ("", parameter) else f"{words} ({clause})"


def knowing_sentence(dataset: xr.Dataset, decision: Decision, system: str = "metric") -> str:
    """Say what knowing parameters would bring to the choice, or that it would bring nothing."""
    if "value" not in decision.knowing or not decision.together:
        return ""
    scale = score_scale(dataset, decision, system)
    ceiling = float(decision.options.attrs["perfect_information"])
    if decision.reason in ("only one within the limits", "breaks limits least"):
        return ""
    if ceiling == 0:
        return "It is the best of those that it was chosen among in every world: knowing more would not change it."
    value, error = decision.together["value"], decision.together["error"]
    sure = decision.knowing["value"].values[decision.knowing["above_noise"].values]
    if not len(sure) or value <= 2 * error:
        text = (
            "Knowing any of the drawn parameters would hardly change the choice: no value is above what "
            "chance alone gives."
        )
    else:
        text = (
            f"Knowing the facts that count most before choosing would bring about {scale.text(value)} {scale.unit} "
            f"(standard error {scale.text(error)})."
        )
    return (
        text + f" Knowing everything, luck included, would bring {scale.text(ceiling)} {scale.unit}: no survey is "
        "worth more."
    )


def survey_sentence(dataset: xr.Dataset, decision: Decision, system: str = "metric") -> str:
    """Say whether measuring before the first work season would pay, and for how many hours."""
    if "value" not in decision.knowing or float(decision.options.attrs["perfect_information"]) == 0:
        return ""
    if decision.reason in ("only one within the limits", "breaks limits least"):
        return ""
    if "net" not in decision.survey:
        return (
            "Measure first? No: no drawn fact is surely worth knowing for this choice, so that hours of measuring "
            "before the first work season would be lost to the work."
        )
    table, scale = decision.survey, score_scale(dataset, decision, system)
    tried = ", ".join(f"{hours:g}" for hours in table["hours"].values if hours)
    worth = scale.text(float(table.attrs["hour_worth"]))
    source = "work is said to be worth" if table.attrs["given"] else "the chosen work saves on average"
    an_hour = f"{worth} {scale.unit} that an hour of {source}"
    best = float(table.attrs["hours"])
    if not best:
        most = table.isel(hours=int(table["value"].to_numpy().argmax()))
        return (
            f"Measure first? Of {tried} h before the first work season none would surely pay: the most, "
            f"{float(most['hours']):g} h, would bring {scale.text(float(most['value']))} {scale.unit} (standard error "
            f"{scale.text(float(most['error']))}), against {an_hour}."
        )
    row = table.sel(hours=best)
    return (
        f"Measure first? Yes: of {tried} h before the first work season {best:g} h pay best. They would bring "
        f"{scale.text(float(row['value']))} {scale.unit} (standard error {scale.text(float(row['error']))}), and "
        f"{scale.text(float(row['net']))} are left after the {an_hour}."
    )


def facts_to_measure(dataset: xr.Dataset, decision: Decision, count: int = _FACTS, system: str = "metric") -> list[str]:
    """Give the facts most worth measuring on this site, in plain words, from the most worth.

    First come those whose knowledge could change the choice (their value is above chance), then those that the size of
    the difference between the two foremost strategies hangs on, then, up to the number wanted, the next in that order,
    of which it is said that these worlds do not show that they count.
    """
    scale = score_scale(dataset, decision, system)
    lines: list[str] = []
    named: set[str] = set()
    if "value" in decision.knowing:
        rows = decision.knowing.isel(parameter=decision.knowing["above_noise"].values)
        for name, value in zip(rows["parameter"].values, rows["value"].values, strict=True):
            named.add(str(name))
            worth = f"knowing it could change the choice, worth {scale.text(value)} {scale.unit}"
            lines.append(_fact(dataset, str(name), worth))
    if "index" in decision.sensitivity:
        table = decision.sensitivity
        clear = (table["index"] > float(table.attrs["noise"])) & (table["index"] > 2 * table["error"])
        shares = [
            f"decides {percent(float(index))} of how the two foremost differ (±{percent(float(error))})"
            if sure
            else "the next in order, but these worlds do not show that it counts"
            for index, error, sure in zip(table["index"].values, table["error"].values, clear.values, strict=True)
        ]
        order = np.argsort(~clear.values, kind="stable")
        lines += [
            _fact(dataset, str(table["parameter"].values[at]), shares[at])
            for at in order
            if str(table["parameter"].values[at]) not in named
        ]
    return lines[:count]


def _fact(dataset: xr.Dataset, name: str, worth: str) -> str:
    """One line: what it is, what knowing it is worth, how it is measured, and its name in the profile."""
    plain = plain_fact(name)
    if plain is None:
        return f"{fact_title(dataset, name)}: {worth}"
    what, how = plain
    return f"{what[0].upper()}{what[1:]}: {worth}. How: {how} ({name})."


def _choice(decision: Decision) -> str:
    if not decision.next:
        return f'"{decision.choice}" is the only strategy: there is nothing to choose.'
    why = {
        "best": f"it has the least {score_title(decision)}",
        "best within the limits": f"of those that keep the limits it has the least {score_title(decision)}",
        "only one within the limits": "it alone keeps the limits",
        "breaks limits least": "no strategy keeps the limits, and it breaks its worst one in the fewest worlds",
    }[decision.reason]
    if score_title(decision) == "native cover":
        why = why.replace("the least", "the most")
    before = list(decision.goals.order)
    name = str(decision.scored["outcome"].values[0])
    if name in before and before.index(name):
        why += (
            f", where {', '.join(title_of(one) for one in before[: before.index(name)])} cannot tell the foremost apart"
        )
    return f'Choose "{decision.choice}": {why}.'


def _sure(decision: Decision, scale: ScoreScale) -> str:
    if not decision.next:
        return ""
    score = decision.scored["score"]
    less = score.sel(strategy=decision.choice) < score.sel(strategy=decision.next)
    more = score.sel(strategy=decision.choice) > score.sel(strategy=decision.next)
    wins, losses = int(less.sum()), int(more.sum())
    row = decision.options.sel(strategy=decision.next)
    ahead, low, high = (float(row[name]) for name in ("ahead", "ahead_low", "ahead_high"))
    worlds = score.sizes["replicate"]
    if wins + losses == 0:
        return f'"{decision.next}" comes next, and is the same in every world.'
    if decision.reason in ("only one within the limits", "breaks limits least"):
        return f'Next comes "{decision.next}"; how often limits are broken decides, not the score.'
    word = surety(wins, wins + losses)
    shares = shares_of(wins, worlds - wins - losses, losses)
    text = f'How sure: {word}; against "{decision.next}", the next, it did {shares}'
    text += f", by {scale.text(ahead)} {scale.unit} on average ({scale.text(low)} to {scale.text(high)})."
    if not decision.told_apart:
        text += " The two cannot be told apart: choose between them by what is not in the goals, or run more worlds."
    return text


def _wrong(decision: Decision, scale: ScoreScale) -> str:
    row = decision.options.sel(strategy=decision.choice)
    if not decision.next or float(row["best"]) == 1:
        return ""
    low, high = (scale.text(float(row[name])) for name in ("regret_low", "regret_high"))
    return (
        f"It is the best of the options in {percent(float(row['best']))} of worlds; choosing it costs "
        f"{scale.text(float(row['regret']))} {scale.unit} on average against the best of each world ({low} to {high})."
    )


def _limits(decision: Decision) -> str:
    out = [
        str(name)
        for name, good in zip(decision.options["strategy"].values, decision.options["within"].values, strict=True)
        if not good
    ]
    if not out:
        return ""
    return f"Out, since they break a limit too often: {', '.join(out)}."


def _corrected(decision: Decision) -> str:
    worlds = decision.scored.sizes["replicate"]
    confidence = percent(float(decision.options.attrs["confidence"]))
    few = " So few worlds say little: run some hundred." if worlds < 20 else ""
    return f"{worlds:,} worlds; {confidence} intervals.{few} {HOW_CORRECTED}"
