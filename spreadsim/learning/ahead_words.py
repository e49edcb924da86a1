"""Whether we are ahead, in sentences."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.analysis.wording import Scale, percent, surety
from spreadsim.learning.measured import AGAINST, TITLES


def ahead_sentences(found: xr.Dataset, *, system: str = "metric") -> Iterator[str]:
    """Say whether we are ahead of last year and of no work, first in a word, then number by number.

    Parameters
    ----------
    found
        From `ahead`.
    system
        Units to show, "metric" or "us".
    """
    about = found.attrs
    names = [str(name) for name in found["measure"].to_numpy()]
    yield f"Are we ahead of last year? {_answer(found, names, 'then')}"
    yield f"Are we ahead of where we would be had nobody worked? {_answer(found, names, 'untreated')}"
    for name in names:
        yield _measure(found.sel(measure=name), name, about, system)
    share = percent(about["confidence"])
    inside = "" if about["season"] % 4 == 0 else ", with the rest of that year worked on as before"
    yield (
        f"Last year is the map of {about['mapped']} with what it is thought to have lacked; now is the end of year "
        f"{about['years']} of the model, by the survey of {about['surveyed']}{inside}. What people would have noted "
        "and did not is taken to be gone; had nobody worked is the same worlds, with the same finds, run without the "
        f"work. In brackets: where {share} of {found.sizes['world']:,} worlds lie that explain the survey (worth "
        f"{about['effective_worlds']:,.0f} different ones)."
    )


def word_of(row: xr.Dataset, worlds: float) -> str:
    """Give "less", "more", "same", or "" where it can't be told, of one measure against one other.

    It is told where 90 % of the worlds lie on one side of none, and more of them than not, surely, have less (or more).
    """
    low, high = float(row["difference_low"]), float(row["difference_high"])
    if float(row["same"]) == 1.0:
        return "same"
    if high <= 0.0 and _sure(row, "less", worlds) != "not sure":
        return "less"
    return "more" if low >= 0.0 and _sure(row, "more", worlds) != "not sure" else ""


def _sure(row: xr.Dataset, side: str, worlds: float) -> str:
    """Say in a word how sure a side is; repeats of one world count once."""
    count = max(round(worlds), 1)
    return surety(round(float(row[side]) * count), count)


def _answer(found: xr.Dataset, names: list[str], against: str) -> str:
    by_word: dict[str, list[str]] = {}
    worlds = found.attrs["effective_worlds"]
    for name in names:
        row = found.sel(measure=name, against=against)
        word = word_of(row, worlds)
        said = TITLES[name][0]
        if word in ("less", "more"):
            said += f" ({_sure(row, word, worlds)})"
        by_word.setdefault(word, []).append(said)
    texts = {
        "less": "yes on {}",
        "more": "no, there is more, on {}",
        "same": "no difference on {}",
        "": "it can't be told on {}",
    }
    parts = [texts[word].format(_listed(by_word[word])) for word in texts if word in by_word]
    text = "; ".join(parts)
    return f"{text[0].upper()}{text[1:]}."


def _listed(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def scale_for(row: xr.Dataset, kind: str, system: str) -> Scale:
    """Give the scale of all numbers of a measure."""
    values = np.concatenate([row[name].to_numpy().ravel() for name in ("mean", "low", "high")])
    return Scale(values, kind, system, levels=row["mean"].to_numpy() if kind == "area" else ())


def _measure(row: xr.Dataset, name: str, about: Any, system: str) -> str:
    title, kind = TITLES[name]
    scale = scale_for(row, kind, system)

    def level(when: str) -> str:
        one = row.sel(when=when)
        mean = scale.with_unit(scale.text(float(one["mean"])))
        low, high = float(one["low"]), float(one["high"])
        return mean if low == high else f"{mean} ({scale.span(low, high)})"

    now_then = _difference(row.sel(against="then"), scale, kind, about["effective_worlds"], system)
    now_alone = _difference(row.sel(against="untreated"), scale, kind, about["effective_worlds"], system)
    return (
        f"{title[0].upper()}{title[1:]}: {level('now')} now, {level('then')} when the map was made: {now_then}. Had "
        f"nobody worked it would be {level('untreated')}: {now_alone}."
    ).replace("it would be", "there would be" if kind == "hosts" else "it would be")


def _difference(row: xr.Dataset, scale: Scale, kind: str, worlds: float, system: str) -> str:
    mean, low, high = (float(row[f"difference{end}"]) for end in ("", "_low", "_high"))
    if float(row["same"]) == 1.0:
        return "the same in every world"
    if not any(digit in "123456789" for digit in scale.text(abs(mean))):  # too little for the unit of the levels
        scale = Scale([mean, low, high], kind, system)
    fewer = "fewer" if kind == "hosts" else "less"
    side = "less" if mean < 0 else "more"
    ends = (-high, -low) if side == "less" else (low, high)
    amount = f"{scale.with_unit(scale.text(abs(mean)))} {fewer if side == 'less' else 'more'} ({scale.span(*ends)})"
    share = f"{fewer if side == 'less' else 'more'} in {percent(float(row[side]))} of the worlds"
    if word_of(row, worlds) == side:
        return f"{amount}, {_sure(row, side, worlds)}: {share}"
    same = f", the same in {percent(float(row['same']))}" if float(row["same"]) else ""
    return f"{amount}, which can't be told from none: {share}{same}"


def ahead_rows(found: xr.Dataset) -> list[tuple[Any, ...]]:
    """Give a table, headings first: a row for each measure and time, in m2 and hosts."""
    ends = ("mean", "low", "high")
    apart = ("difference", "difference_low", "difference_high", "less", "more")
    rows: list[tuple[Any, ...]] = [("measure", "unit", "when", *ends, *(f"now_{name}" for name in apart))]
    for name, unit in zip(found["measure"].to_numpy().tolist(), found["unit"].to_numpy().tolist(), strict=True):
        for when in found["when"].to_numpy().tolist():
            one = found.sel(measure=name)
            row = (name, unit, when, *(float(one[end].sel(when=when)) for end in ends))
            other = [float(one[what].sel(against=when)) for what in apart] if when in AGAINST else [""] * len(apart)
            rows.append((*row, *other))
    return rows
