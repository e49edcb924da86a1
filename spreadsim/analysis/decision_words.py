"""A decision in sentences: the choice, its reason, how sure it is, what it could cost, and what is worth knowing."""

import re
from collections.abc import Mapping

import xarray as xr

from spreadsim.analysis.decision import Decision
from spreadsim.analysis.goals import NET_PRESENT_COST
from spreadsim.analysis.outcomes import MEASURES, unit_of
from spreadsim.analysis.pairs import HOW_CORRECTED
from spreadsim.analysis.wording import percent, surety

_BY_NAME = {measure.name: measure for measure in MEASURES}
_FACTS = 5


def decision_sentences(dataset: xr.Dataset, decision: Decision) -> list[str]:
    """Say what to do, why, and how sure it is.

    Returns
    -------
    list of str
        The choice with its reason; how sure; what is given up if it is wrong; what knowing more could
        bring; and how the intervals were corrected.
    """
    told = [_choice(decision), _sure(dataset, decision), _wrong(dataset, decision), _limits(decision)]
    told += [knowing_sentence(dataset, decision), _corrected(decision)]
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


def fact_title(dataset: xr.Dataset, parameter: str) -> str:
    """Give a parameter in words, with its unit and the first clause of what its file says of it."""
    attrs: Mapping[str, object] = dataset[parameter].attrs
    process, _, name = parameter.partition(".")
    unit = str(attrs.get("units", "1"))
    words = f"{process}: {name.replace('_', ' ')}" + ("" if unit == "1" else f", {unit}")
    # what files say is a note of several clauses; a parameter without one is called by its own name
    clause = re.split(r"; |\. |: ", str(attrs.get("long_name", "")).strip(), maxsplit=1)[0]
    return words if clause in ("", parameter) else f"{words} ({clause})"


def knowing_sentence(dataset: xr.Dataset, decision: Decision) -> str:
    """Say what knowing parameters would bring to the choice, or that it would bring nothing."""
    if "value" not in decision.knowing or not decision.together:
        return ""
    unit = score_unit(dataset, decision)
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
            f"Knowing the facts that count most before choosing would bring about {number(value)} {unit} "
            f"(standard error {number(error)})."
        )
    return text + f" Knowing everything, luck included, would bring {number(ceiling)} {unit}: no survey is worth more."


def facts_to_measure(dataset: xr.Dataset, decision: Decision, count: int = _FACTS) -> list[str]:
    """Give the facts most worth measuring on this site, in plain words, from the most worth.

    First come those whose knowledge could change the choice (their value is above chance), then those
    that the size of the difference between the two foremost strategies hangs on.
    """
    unit = score_unit(dataset, decision)
    lines: list[str] = []
    named: set[str] = set()
    if "value" in decision.knowing:
        rows = decision.knowing.isel(parameter=decision.knowing["above_noise"].values)
        for name, value in zip(rows["parameter"].values, rows["value"].values, strict=True):
            named.add(str(name))
            lines.append(
                f"{fact_title(dataset, str(name))}: knowing it could change the choice, worth {number(value)} {unit}"
            )
    if "index" in decision.sensitivity:
        table = decision.sensitivity
        clear = (table["index"] > float(table.attrs["noise"])) & (table["index"] > 2 * table["error"])
        rows = table.isel(parameter=clear.values)
        for name, index, error in zip(
            rows["parameter"].values, rows["index"].values, rows["error"].values, strict=True
        ):
            if str(name) not in named:
                share = f"{percent(float(index))} of how the difference of the two foremost varies"
                share += f" (±{percent(float(error))})"
                lines.append(f"{fact_title(dataset, str(name))}: decides {share}")
    return lines[:count]


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
            f", where {', '.join(_plain(one) for one in before[: before.index(name)])} cannot tell the foremost apart"
        )
    return f'Choose "{decision.choice}": {why}.'


def _sure(dataset: xr.Dataset, decision: Decision) -> str:
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
    text = f'How sure: {word}; it is better than "{decision.next}", the next, in {percent(wins / worlds)} of worlds'
    text += f", by {number(ahead)} {score_unit(dataset, decision)} on average ({number(low)} to {number(high)})."
    if not decision.told_apart:
        text += " The two cannot be told apart: choose between them by what is not in the goals, or run more worlds."
    return text


def _wrong(dataset: xr.Dataset, decision: Decision) -> str:
    row = decision.options.sel(strategy=decision.choice)
    if not decision.next or float(row["best"]) == 1:
        return ""
    unit = score_unit(dataset, decision)
    return (
        f"It is the best of the options in {percent(float(row['best']))} of worlds; choosing it costs "
        f"{number(float(row['regret']))} {unit} on average against the best of each world "
        f"({number(float(row['regret_low']))} to {number(float(row['regret_high']))})."
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


def _plain(name: str) -> str:
    return "net present cost" if name == NET_PRESENT_COST else _BY_NAME[name].title
