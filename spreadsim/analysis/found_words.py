"""What a search found, in sentences and as a table of numbers."""

from string import ascii_lowercase

import xarray as xr

from spreadsim.analysis.decision_words import number
from spreadsim.analysis.flip_words import score_words
from spreadsim.analysis.found import Found
from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.wording import percent


def found_sentences(found: Found) -> list[str]:
    """Say whether something better was found, by how much, how surely, and what it was judged by.

    Returns
    -------
    list of str
        The verdict first.
    """
    judged = found.judged
    rival = best_given(judged)
    score = score_words(judged)
    told = [_verdict(found, rival, score)]
    if not found.same_as:
        told.append(_by_how_much(judged, rival))
        told.append(_cost(judged, rival))
    told.append(_limits(judged))
    looked, chose, worlds = found.worlds
    told.append(
        f"Tried {found.tries:,} strategies ({found.different:,} different ones, plainer forms of the best among them) "
        f"in {looked:,} worlds; the foremost were chosen among in {chose:,} others, and all numbers here are "
        f"of {worlds:,} others again (seed {found.seed}). A longer search may find a better one."
    )
    return [sentence for sentence in told if sentence]


def best_given(judged: xr.Dataset) -> str:
    """Name the given strategy with the lowest score of those that keep the limits; of all, if none does."""
    given = judged.isel(strategy=judged["origin"].values == "given")
    kept = given.isel(strategy=given["within"].values)
    rivals = kept if kept.sizes["strategy"] else given
    return str(rivals["strategy"].values[int(rivals["score"].to_numpy().argmin())])


def letters_of(judged: xr.Dataset) -> dict[str, str]:
    """Give each strategy a letter, where there is no room for names: a to z, then aa, ab and so on."""
    first = ["", *ascii_lowercase]
    letters = (one + two for one in first for two in ascii_lowercase)
    return {str(name): letter for name, letter in zip(judged["strategy"].values, letters, strict=False)}


def score_with_unit(judged: xr.Dataset) -> str:
    """Name the score, with the unit where its name does not tell it."""
    words = score_words(judged)
    weight, _, name = str(judged.attrs["score"]).rpartition(" x ")
    area = any(measure.name == name and measure.kind == "area" for measure in MEASURES)
    return f"{words} (m²)" if area and weight in ("", "1") else words


def front_rows(judged: xr.Dataset) -> list[list[str]]:
    """Give the strategies from few hours to many: name, score, hours and money a year, and whether any costs less.

    Returns
    -------
    list of list of str
        The last column is "yes" where no other has score, hours and money as low, "breaks a limit", or "".
    """
    rows = []
    for at in judged["hours"].to_numpy().argsort(kind="stable"):
        one = judged.isel(strategy=int(at))
        note = "yes" if bool(one["front"]) else ("" if bool(one["within"]) else "breaks a limit")
        numbers = [number(float(one[name])) for name in ("score", "hours", "money")]
        rows.append([str(one["strategy"].values), *numbers, note])
    return rows


def _verdict(found: Found, rival: str, score: str) -> str:
    if found.same_as:
        return f'Nothing better was found than "{found.same_as}", which is one of those given.'
    name = found.strategy.name
    level = percent(float(found.judged.attrs["confidence"]))
    best = f'"{name}", the best of the search,'
    if found.verdict == "better":
        return (
            f'"{name}" beats every strategy given on {score}, told from each at {level}; the best of them is "{rival}".'
        )
    if found.verdict == "not better":
        return f'No better strategy was found than those given: {best} does no better than "{rival}".'
    return (
        f"No strategy was found that is surely better than those given: {best} can't be told from the best of them, "
        f'"{rival}", at {level}.'
    )


def _by_how_much(judged: xr.Dataset, rival: str) -> str:
    one = judged.sel(strategy=rival)
    found = float(judged["score"].values[judged["origin"].values == "found"][0])
    ahead, low, high = (float(one[name]) for name in ("ahead", "ahead_low", "ahead_high"))
    better, equal = float(one["better"]), float(one["equal"])
    shares = [f"less in {percent(better)} of worlds", f"more in {percent(max(0.0, 1 - better - equal))}"]
    if equal:
        shares.append(f"the same in {percent(equal)}")
    title = score_with_unit(judged)
    return (
        f"{title[0].upper()}{title[1:]}: {number(found)} against {number(float(one['score']))}, lower by "
        f"{number(ahead)} ({number(low)} to {number(high)}); {', '.join(shares)}."
    )


def _cost(judged: xr.Dataset, rival: str) -> str:
    one = judged.sel(strategy=rival)
    found = judged.isel(strategy=judged["origin"].values == "found").isel(strategy=0)
    text = f"It takes {number(float(found['hours']))} h a year against {number(float(one['hours']))}"
    if float(found["money"]) or float(one["money"]):
        text += (
            f", and {number(float(found['money']))} {judged.attrs['currency']} against {number(float(one['money']))}"
        )
    return text + "."


def _limits(judged: xr.Dataset) -> str:
    out = [
        f'"{name}"' for name, kept in zip(judged["strategy"].values, judged["within"].values, strict=True) if not kept
    ]
    return f"Too often beyond a limit: {', '.join(out)}." if out else ""
