"""What is said of a run that went on until it was sure."""

from collections.abc import Sequence

from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.stopping import GOALS, Look, Seen
from spreadsim.analysis.wording import Scale

_KINDS = {measure.outcome: measure.kind for measure in MEASURES if measure.span == "end"}
_TITLES = {measure.outcome: measure.title for measure in MEASURES if measure.span == "end"}


def story(looks: Sequence[Look], goal: str, confidence: float, year: int, *, system: str = "metric") -> list[str]:
    """Tell how many replicates it took, why it stopped, and what is sure; one text for each paragraph.

    Parameters
    ----------
    looks
        All of them.
    goal
        One of `stopping.GOALS`.
    confidence
        Of all that is said together.
    year
        Whose end was looked at.
    system
        Units to show, "metric" or "us".
    """
    last = looks[-1]
    numbers = ", ".join(f"{look.replicates:,}" for look in looks)
    count = f"{last.replicates:,} replicates, {'one look' if len(looks) == 1 else f'{len(looks)} looks'} ({numbers})"
    if last.reached(goal):
        first = f"Sure after {count}: of every outcome asked for, {GOALS[goal]}."
    else:
        first = f"Not sure after {count}, the most allowed: it does not hold yet of every outcome that {GOALS[goal]}."
    return [
        first,
        *(_seen(one, year, system) for one in last.seen),
        f"All of this holds together with confidence {100 * confidence:g} %, however often was looked: the error is "
        "spread over the looks and over all pairs of strategies, so the intervals meant here are wider than those of a "
        "table for as many replicates, which say nothing of the stopping.",
    ]


def _seen(seen: Seen, year: int, system: str) -> str:
    if not seen.differences:
        return f"Only one strategy is there, {seen.best}: there is nothing to compare."
    least = seen.least_known
    scale = Scale([seen.wanted, least.reach], _KINDS.get(seen.outcome, ""), system, levels=[seen.wanted, least.reach])
    title = _TITLES.get(seen.outcome, seen.outcome.replace("_", " "))
    widest, wanted = (scale.with_unit(scale.text(number)) for number in (least.reach, seen.wanted))
    parts = [
        f"{title[0].upper()}{title[1:]}, end of year {year}: differences between strategies are known to within "
        f'{widest} or better ({wanted} asked for; least known: "{least.first}" and "{least.second}").'
    ]
    best = f'"{seen.best}"'
    if seen.beaten:
        parts.append(f"{best} is surely better than {_listed(seen.beaten)}.")
    if seen.close:
        parts.append(f"{_are(seen.close)} surely within {wanted} of {best}.")
    if seen.open:
        parts.append(f"Open: how {_listed(seen.open)} and {best} compare.")
    return " ".join(parts)


def _listed(names: Sequence[str]) -> str:
    quoted = [f'"{name}"' for name in names]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} and {quoted[-1]}"


def _are(names: Sequence[str]) -> str:
    return f"{_listed(names)} {'is' if len(names) == 1 else 'are'}"
