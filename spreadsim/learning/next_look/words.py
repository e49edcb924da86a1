"""Where to look next in sentences."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.analysis.wording import Scale, percent, surety
from spreadsim.inputs import NO_ACTION
from spreadsim.learning.next_look.paired import MEASURED
from spreadsim.learning.next_look.rows import SHOWN, hours_words, in_order, place

_NAMED = 3
_WANTED = 0.9  # of what looking can avoid


def first_sentence(found: xr.Dataset, system: str = "metric") -> str:
    """Say where to look first, and what all the hours avoid."""
    about = found.attrs
    if not about["worlds_with_some"]:
        return (
            f"Nothing to say on where to look: in none of {about['worlds']:,} worlds is there vine that nobody knows "
            f"of, as far as {_from(about)} tells. That is no proof that there is none."
        )
    chosen = in_order(found)
    first = found.isel(piece=chosen[0])
    hours = hours_words(float(first["hours"]))
    where = f"Look first in {place(first)}, {hours}"
    if len(chosen) > 1:
        others = [f"{place(found.isel(piece=k))} ({hours_words(float(found['hours'][k]))})" for k in chosen[1:_NAMED]]
        where += f", then in {' and '.join(others)}"
    total, pieces = about["hours_used"], "1 piece" if len(chosen) == 1 else f"{len(chosen)} pieces"
    if not about["weighed"]:
        return (
            f"{where}: what is unknown changes nothing that was asked for within {_years(about)}, so the chance "
            f"that anything is there decides for all {hours_words(total)} in {pieces}."
        )
    share = percent(about["score_avoided"] / about["score"])
    return (
        f"{where}: {hours_words(total)} in {pieces} avoid, on average, {share} of the harm ({_by(about)}) that vine "
        f"which nobody knows of would do within {_years(about)} if it is found and taken away now and not left: "
        f"{_amounts(found, system)}."
    )


def other_sentences(found: xr.Dataset) -> Iterator[str]:
    """Say when more hours gain little, how sure it is, what presence alone would say, and what it rests on."""
    about = found.attrs
    if about["worlds_with_some"]:
        if about["weighed"]:
            yield from _falls_off(found)
        yield _sure(found)
        if about["weighed"]:
            yield _against_presence(found)
            yield _weighed(about)
    yield _rests_on(found)
    yield _never_nil(found)


def _from(about: Any) -> str:
    return f"the survey of {about['surveyed']}" if about["surveyed"] else "the map"


def _years(about: Any) -> str:
    return "1 year" if about["horizon"] == 1 else f"{about['horizon']} years"


def _amounts(found: xr.Dataset, system: str) -> str:
    parts = []
    for measure in (one for one in MEASURED if one.name in (*SHOWN, "climbed_hosts")):
        avoided, all_ = (float(found[name].sel(measure=measure.name).sum()) for name in ("avoided", "harm"))
        scale = Scale([all_], measure.kind, system)
        if all_ > 0:
            told = f"{scale.text(avoided)} of {scale.with_unit(scale.text(all_))}"
            parts.append(f"{told} of {measure.title}")
    return "; ".join(_tidy(part) for part in parts)


def _tidy(text: str) -> str:
    """Say a unit and a title that are one thing once."""
    for twice, once in (("hosts of climbed hosts", "climbed hosts"), ("host of climbed hosts", "climbed host")):
        text = text.replace(twice, once)
    return text.replace("seeds of seed leaving the site", "seeds leaving the site")


def _sure(found: xr.Dataset) -> str:
    about, chosen = found.attrs, in_order(found)
    first = float(found["first"][chosen[0]]) if about["weighed"] else float("nan")
    text = (
        f"How sure: vine that nobody knows of is there in {about['worlds_with_some']:,} of {about['worlds']:,} worlds"
    )
    if not about["weighed"]:
        return f"{text}."
    many = about["many_first"]
    listed = [percent(float(found["among_first"][k])) for k in chosen[:many]]
    low, high = about["avoided_range"]
    word = surety(round(first * about["worlds"]), about["worlds"])
    order = f"That {place(found.isel(piece=chosen[0]))} is worth most an hour is {word}: so it is in {percent(first)}"
    order += " of sets of worlds drawn anew from these"
    if many > 1:
        order += f"; the first {many} stay among the first {many} in {', '.join(listed)} of them"
    share = [percent(max(one, 0.0) / about["score"]) for one in (low, high)]
    return (
        f"{text}. {order}. From world to world the hours avoid {share[0]} to {share[1]} of the average harm (90 % of "
        "worlds), since each has its vine elsewhere."
    )


def _against_presence(found: xr.Dataset) -> str:
    about = found.attrs
    moved = float(np.abs(found["hours"] - found["hours_by_presence"]).sum()) / 2
    if moved < 1e-9:
        return "The chance of presence alone would send people to the same places."
    kept = percent(about["score_by_presence"] / about["score_avoided"])
    first = found.isel(piece=int(np.argmax((found["hours_by_presence"] - found["hours"]).to_numpy())))
    told = f"{hours_words(moved)} of {hours_words(about['hours_used'])}"
    return (
        f"By the chance of presence alone {told} would go elsewhere (most of it to {place(first)}), and "
        f"{kept} of the same harm would be avoided."
    )


def _falls_off(found: xr.Dataset) -> Iterator[str]:
    hours, avoided = _by_the_list(found)
    about, most = found.attrs, float(found.attrs["score_can_be_avoided"])
    last = about["gain_of_more"]
    loss = 1.0 - about["score_avoided"] / about["score_at_best"] if about["score_at_best"] else 0.0
    first = percent(float(np.interp(1.0, hours, avoided)) / about["score"])
    text = (
        f"The first hour of the list avoids {first} of that harm, one more after "
        f"{hours_words(about['hours'])} {_fine(last / about['score'])}"
    )
    if avoided[-1] >= _WANTED * most:
        enough = float(np.interp(_WANTED * most, avoided, hours))
        text += f"; after {hours_words(enough)} {percent(_WANTED)} of what looking can avoid is avoided"
        if enough < about["hours"] / 2:
            text += ", so that most of the other hours may be worth more elsewhere"
    hidden = percent(1.0 - most / about["score"])
    yield (
        f"{text}, and what looks like litter, {hidden} of it, no hours find. Going out for {about['visit_minutes']:g} "
        f"minutes at least, in whole visits, costs {_fine(max(loss, 0.0))} of what could be avoided."
    )


def _by_the_list(found: xr.Dataset) -> tuple[Any, Any]:
    """Give hours and the harm that they avoid, as the list is gone through in its order, from none on."""
    order = np.argsort(found["rank"].to_numpy(), kind="stable")
    order = order[found["rank"].to_numpy()[order] > 0]
    columns = (found[name].to_numpy()[order] for name in ("hours", "score_avoided"))
    hours, avoided = (np.concatenate([[0.0], np.cumsum(column)]) for column in columns)
    return hours, avoided


def _fine(share: float) -> str:
    return percent(share) if share >= 0.01 else ("under 0.1 %" if share < 0.001 else f"{100 * share:.1f} %")


def _weighed(about: Any) -> str:
    titles = {measure.name: measure.title for measure in MEASURED}
    if about["ordered"]:
        name = about["weighed"][0]
        other = (
            ""
            if name == about["first_goal"]
            else f", since finding what is unknown changes no {titles[about['first_goal']]}"
        )
        return f"Shared out by {titles[name]}, the goal that comes first{other}; what else is avoided stands beside it."
    parts = [f"{w:g} x {titles[name]}" for name, w in zip(about["weighed"], about["weights"], strict=True)]
    left = [name.replace("_", " ") for name in about["left_out"]]
    missing = f"; {' and '.join(left)} of the goals is not in it: work is not weighed here" if left else ""
    return f"Shared out by {' + '.join(parts)}{missing}."


def _by(about: Any) -> str:
    if not about["ordered"]:
        return "as weighed below"
    return next(measure.title for measure in MEASURED if measure.name == about["weighed"][0])


def _rests_on(found: xr.Dataset) -> str:
    about = found.attrs
    years = "1 year" if about["years"] == 1 else f"{about['years']} years"
    worlds = f"{about['worlds']:,} worlds"
    if about["learned"]:
        seen = f" of {about['surveyed']}" if about["surveyed"] else ""
        text = f"It rests on {worlds} that explain the survey{seen} and were put right by it."
    else:
        text = (
            f'It rests on {worlds} run from the map for {years} of "{about["strategy"]}", with no second survey: what '
            "is unknown has come since, or is marked unknown on the map; what the map itself lacked is not in it."
        )
    then = f'"{about["then"]}" goes on'
    if about["then"] == NO_ACTION:
        then = "nothing is done, so that nothing is taken off for what crews would come upon anyway"
    return (
        f"{text} Harm is what the same world comes to in the {_years(about)} after, with the unknown vine of a piece "
        f"and without it, while {then}. Looking is in {about['season']}, by the model's own chance of finding; steep "
        "or rough ground takes longer by its access factor. Neither the walk from piece to piece nor the work of "
        "taking away what is found is counted."
    )


def _never_nil(found: xr.Dataset) -> str:
    chance, worlds = found["chance"].to_numpy(), found.attrs["worlds"]
    empty = int((chance == 0).sum())
    text = "What was looked at and found clean counts less here, but is never sure to be clean"
    if empty:
        pieces = "1 piece" if empty == 1 else f"{empty} pieces"
        text += f"; in {pieces} of {len(chance)} no world has any unknown vine, so the chance is small (under "
        text += f"{percent(min(3 / worlds, 1.0))} in each), not nil"
    return f"{text}."


def cautions(found: xr.Dataset) -> Sequence[str]:
    """Give what to mind out there."""
    return [*str(found.attrs["cautions"]).splitlines(), "Go in pairs, and say when you will be back."]
