"""What the answer rests on: what is left if money ends, what would change it, what is assumed, how to repeat it."""

from __future__ import annotations

import numpy as np

from spreadsim.analysis.decision_words import facts_to_measure, knowing_sentence
from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.pairs import HOW_CORRECTED
from spreadsim.analysis.sentences import trust
from spreadsim.analysis.summary import NO_ACTION
from spreadsim.analysis.wording import Scale, percent
from spreadsim.views.brief.facts import Facts

_FEWEST_FOR_FACTS = 50


def stopped_words(facts: Facts) -> list[str]:
    """Say what is left of the choice if money ends, against going on and against never having begun."""
    told, choice = facts.stopped, facts.decision.choice
    if told is None or choice not in told.fruiting or NO_ACTION not in facts.names:
        return []
    here = facts.dataset.sel(replicate=list(told.replicates), year=told.year)
    who = ", ".join(told.crews)
    on = f", while {', '.join(told.staying)} go on" if told.staying else ""
    lines = []
    for measure in MEASURES:
        if measure.name not in ("fruiting_hosts", "infested_area") or measure.name not in here:
            continue
        after = told.fruiting[choice] if measure.name == "fruiting_hosts" else told.infested[choice]
        going, none = (here[measure.name].sel(strategy=name).to_numpy() for name in (choice, NO_ACTION))
        scale = Scale(np.concatenate([after, going, none]), measure.kind, facts.system)
        spans = [_mean_span(values, scale) for values in (after, going, none)]
        worse = float((after < none).mean())
        lines.append(
            f"{measure.title[0].upper()}{measure.title[1:]} at the end of year {told.year} if {who} stop after year "
            f"{told.after}{on}: {spans[0]}; if all go on: {spans[1]}; with no action: {spans[2]}; in {percent(worse)} "
            f"of {len(told.replicates):,} worlds that is still less than with no action."
        )
    return lines


def _mean_span(values: np.ndarray, scale: Scale) -> str:
    low, high = np.quantile(values, [0.05, 0.95])
    return f"{scale.with_unit(scale.text(float(values.mean())))} ({scale.span(float(low), float(high))})"


def would_change(facts: Facts) -> list[str]:
    """Say which facts the answer hangs on, or why that is not known."""
    if facts.worlds < _FEWEST_FOR_FACTS:
        return [f"Which facts the answer hangs on takes {_FEWEST_FOR_FACTS} worlds or more; there are {facts.worlds}."]
    told = [sentence for sentence in (knowing_sentence(facts.dataset, facts.decision),) if sentence]
    named = facts_to_measure(facts.dataset, facts.decision)
    if named:
        if "value" in facts.decision.knowing and not facts.decision.knowing["above_noise"].any():
            told.append("What follows bears on how much better it is, rather than on which is best.")
        told += [f"{text[0].upper()}{text[1:].rstrip('.')}." for text in named]
    elif not told and facts.chosen is not None:
        told.append("No drawn parameter stands out above chance: none is known to change the answer.")
    return told


def assumed(facts: Facts) -> list[str]:
    """Say what the numbers rest on."""
    told = [
        f"{facts.worlds:,} replicate worlds, the same for every option; parameters are drawn anew in each from the "
        "ranges of the vine and the treatments."
        if not facts.experiment.fixed_parameters
        else f"{facts.worlds:,} replicate worlds, the same for every option; all parameters at their defaults."
    ]
    told += [trust(facts.dataset)] if trust(facts.dataset) else []
    crews = [
        f"{crew.name} {sum(crew.hours):g} h a year{'' if crew.turnout == 1 else f' (turnout {crew.turnout:g})'}"
        for crew in facts.experiment.crews
    ]
    told.append(f"Crews as they are on paper: {'; '.join(crews) or 'none'}.")
    if facts.experiment.funds:
        funds = [f"{fund.name} {fund.amount:,.0f} {facts.experiment.currency}" for fund in facts.experiment.funds]
        told.append(f"Funds: {'; '.join(funds)}.")
    else:
        told.append("No fund is given, so money is no limit in the runs.")
    told.append(HOW_CORRECTED)
    told.append("Numbers are rounded one by one: a difference may miss that of the rounded levels by one.")
    return told


def repeat(facts: Facts) -> list[str]:
    """Say how to run it again."""
    attrs = facts.dataset.attrs
    told = []
    if attrs.get("version"):
        made = f"Made with spreadsim {attrs['version']}, seed {attrs.get('seed', '?')}, {facts.worlds:,} worlds."
        told.append(made)
    if "input_experiment" in facts.dataset:
        told.append("The results hold all their inputs: spreadsim compare outcomes.nc --out AGAIN gives the same bits.")
        told.append("spreadsim brief RESULTS writes this file again; spreadsim decide RESULTS the tables behind it.")
    told.append("The order of work with places, sheets and a tally: spreadsim worklist EXPERIMENT --strategy NAME.")
    return told
