"""May a unit be called clear: a rule for declaring absence from searches that found nothing."""

import math
from dataclasses import dataclass

from spreadsim.errors import InputError, show

SURE = 1.0 - 1e-12  # a chance of finding is kept below one, so that its logarithm exists


@dataclass(frozen=True)
class ClearAnswer:
    """What searches that found nothing say; each pair is (with the worst searching, with the best searching)."""

    missed: tuple[float, float]
    """Chance that all searches miss a vine that is there."""
    still_there: tuple[float, float]
    """Chance that the vine is there though nothing was found."""
    searches_needed: tuple[int, int]
    """Searches without a find, those done among them, until it may be called clear."""
    verdict: str
    """`clear`, `not yet`, or `can't tell` where it turns on how well was searched."""
    sentence: str


def chance_of_finding(hours: float, speed_m_per_h: float, width_m: float, area_m2: float) -> float:
    """Give the chance that one search finds what is there, where searchers' paths fall at random.

    Parameters
    ----------
    hours
        Searched, of all searchers together.
    speed_m_per_h, width_m
        How fast one walks, and the effective width in which a plant is seen (both sides together).
    area_m2
        Of the ground searched.

    Returns
    -------
    float
        1 - exp(-width x speed x hours / area), Koopman's formula of random search (1946, from memory).

    Raises
    ------
    InputError
        All that is not above zero, or not a number.
    """
    given = {"hours": hours, "speed": speed_m_per_h, "width": width_m, "area": area_m2}
    problems = [
        f"{name}: found {show(value)}, allowed above 0"
        for name, value in given.items()
        if not (math.isfinite(value) and value > 0)
    ]
    if problems:
        raise InputError(*problems)
    return -math.expm1(-width_m * speed_m_per_h * hours / area_m2)


def may_be_called_clear(
    searches: int, finding: tuple[float, float], *, prior: float = 0.5, accepted: float = 0.05, unit: str = "the unit"
) -> ClearAnswer:
    """Tell whether a unit may be called clear after searches that found nothing.

    By Bayes: still there = prior m / (prior m + 1 - prior), where m = (1 - finding)^searches is the chance that
    independent searches all miss it. Searches of the same ground by the same people in the same season are less than
    independent: count those only once.

    Parameters
    ----------
    searches
        Whole searches of the unit that found nothing.
    finding
        Lowest and highest chance, above 0 to 1, that one search finds the vine if it is there.
    prior
        Chance, above 0 and below 1, that it was still there before the first of the searches.
    accepted
        Chance, above 0 and below 1, of leaving a vine behind that one can live with.
    unit
        Its name, for the sentence.

    Returns
    -------
    ClearAnswer
        With a sentence; it is `clear` only if it is so with the worst searching too.

    Raises
    ------
    InputError
        All arguments that can't be used.
    """
    _check(searches, finding, prior, accepted)
    worst, best = (min(chance, SURE) for chance in finding)
    missed = ((1.0 - worst) ** searches, (1.0 - best) ** searches)
    there = (_posterior(prior, missed[0]), _posterior(prior, missed[1]))
    needed = (_needed(worst, prior, accepted), _needed(best, prior, accepted))
    if searches >= needed[0]:
        verdict, says = "clear", "may be called clear"
    elif searches < needed[1]:
        verdict, says = "not yet", "may not be called clear yet"
    else:
        verdict, says = "can't tell", "may or may not be called clear: it turns on how well it was searched"
    chance = _between(f"{there[1]:.2g}", f"{there[0]:.2g}")
    wanted = _between(str(needed[1]), str(needed[0]))
    sentence = (
        f"{unit[:1].upper()}{unit[1:]} {says}: after {searches} searches that found nothing the chance that vine is "
        f"left is {chance}, and {accepted:g} is accepted; {wanted} searches without a find are needed in all, if it "
        f"was there with chance {prior:g} before them. A seed that arrives later is not counted."
    )
    return ClearAnswer(missed, there, needed, verdict, sentence)


def _posterior(prior: float, missed: float) -> float:
    return prior * missed / (prior * missed + 1.0 - prior)


def _needed(finding: float, prior: float, accepted: float) -> int:
    """Give the fewest searches after which the posterior is at most what is accepted."""
    if prior <= accepted:
        return 0
    most = accepted * (1.0 - prior) / (prior * (1.0 - accepted))
    return math.ceil(math.log(most) / math.log1p(-finding) - 1e-9)  # the rounding of a whole number is not a search


def _between(low: str, high: str) -> str:
    return low if low == high else f"{low} to {high}"


def _check(searches: int, finding: tuple[float, float], prior: float, accepted: float) -> None:
    problems = []
    if searches < 0:
        problems.append(f"searches: found {show(searches)}, allowed 0 or more")
    if not 0.0 < finding[0] <= finding[1] <= 1.0:
        problems.append(f"finding: found {show(finding)}, allowed a lowest and a highest chance, above 0 to 1")
    for name, value in (("prior", prior), ("accepted", accepted)):
        if not 0.0 < value < 1.0:
            problems.append(f"{name}: found {show(value)}, allowed above 0 and below 1")
    if problems:
        raise InputError(*problems)
