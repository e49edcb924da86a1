"""What the page says: questions, things to watch, and sentences computed from what was filmed."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from spreadsim.inputs import units
from spreadsim.views.class_page.reel import Reel
from spreadsim.views.class_page.steps import Step

CUT_OR_CLEAR = ("Cut it off the trees", "Clear it from the ground", "Not sure")


@dataclass(frozen=True)
class Words:
    """Words of a step.

    Attributes
    ----------
    tab, question, watch
        On its button; to the class; what to look at.
    options
        To vote on.
    rounds
        Names of the ballots, each with votes of its own.
    charts
        What is drawn, two of `reel.SERIES`.
    minutes
        Of 45.
    teacher
        A hint.
    """

    tab: str
    question: str
    watch: str
    options: tuple[str, ...]
    rounds: tuple[str, ...]
    charts: tuple[str, str]
    minutes: int
    teacher: str


STEPS: Mapping[str, Words] = MappingProxyType(
    {
        "vote": Words(
            "Vote",
            "The first 100 hours: cut the vine off the trees, or clear it from the ground?",
            "Vote before you play. Then play, take another run of luck, play again - and vote on the same question "
            "once more.",
            CUT_OR_CLEAR,
            ("First vote", "After what chance does"),
            ("mat_area", "fruiting"),
            9,
            "Nobody is wrong yet. Play at least three runs of luck: the ground and the work stay the same, only chance "
            "differs. The average of all runs is under Explore, for later.",
        ),
        "seed": Words(
            "Seed",
            "Where does the seed come from: the mat on the ground, or the vine up in the trees?",
            "Dots that fly are seeds carried by birds that could grow. Where do they start, left and right?",
            ("From the mat", "From the trees", "From both"),
            ("Show of hands",),
            ("fruiting", "landed"),
            7,
            "The mat creeps and roots but never flowers on the ground; only stems that have climbed into light bear "
            "fruit. Seed drawn from beyond the edge comes from gardens and woods outside.",
        ),
        "cutting": Words(
            "Only cut",
            "All stems on the trees are cut and hardly any seed falls. Is the job done?",
            "Look at the ground on the left, and at the climbed hosts: bases that were cut sprout and climb again.",
            ("Yes, it will fade", "No, the mat goes on", "Cut again each year, then yes"),
            ("Show of hands",),
            ("mat_area", "climbed"),
            7,
            "Cutting stops seed within a season. It takes nothing from the mat, and the mat keeps climbing: cutting "
            "alone has to be paid for again and again.",
        ),
        "clearing": Words(
            "Only clear",
            "We clear the mats, but fruiting trees still stand over them. What comes down?",
            "Watch the fruiting hosts on the left, and where birds carry their seed: also to ground that was clean.",
            ("Nothing: no mat, no vine", "Seed on the cleared ground", "Seed on all of the site"),
            ("Show of hands",),
            ("fruiting", "rooted"),
            7,
            "Vine in a tree lives on when the mat beneath it is pulled. Each year that it fruits makes new patches, "
            "elsewhere and unseen for years.",
        ),
        "return": Words(
            "Look, go back",
            "The same plan twice, but once nobody goes out to look and nobody goes back. What happens?",
            "On the right nobody looks or goes back. Dotted mat is mat that nobody knows of: it can't be worked.",
            ("It makes no difference", "It comes back slowly", "Most of the work is lost"),
            ("Show of hands",),
            ("mat_area", "unknown_area"),
            7,
            "Some pieces root again, some stems are missed, some patches are never found. Coming back takes few hours "
            "in later years; not coming back undoes many.",
        ),
        "home": Words(
            "At home",
            "The first 100 hours again: cut, or clear? And what will you do at home?",
            "1. Identify first: be sure which plant it is. 2. Look at your trees: vine that climbs is vine that will "
            "fruit. 3. Plant something else, that birds don't carry into the woods.",
            CUT_OR_CLEAR,
            ("Last vote",),
            ("mat_area", "rooted"),
            8,
            "Compare the three votes. What changed minds? Ask for one thing that each will look at on the way home. "
            "Nobody cuts, pulls or sprays before reading the cautions below.",
        ),
    }
)

OUTCOMES: Mapping[str, str] = MappingProxyType(
    {
        "mat_area": "mat on the ground",
        "unknown_area": "mat nobody knows of",
        "climbed": "climbed hosts",
        "fruiting": "fruiting hosts",
        "landed": "seeds landed so far",
        "rooted": "new patches so far",
        "hours": "hours worked so far",
    }
)


def area(value: float, system: str) -> str:
    """An area for a class: three digits, with its unit."""
    number, unit = units.display(value, "area", system)
    digits = max(0, len(str(int(number))) - 3)
    return f"{round(number, -digits):,.0f} {pretty(unit)}"


def pretty(unit: str) -> str:
    """A unit of area as it is printed."""
    return unit.replace("2", "\u00b2").replace("ft\u00b2", "sq ft")


def shows(step: Step, reels: Mapping[str, Reel], system: str) -> list[str]:
    """What each run of luck shows in a step: a sentence or two for each, all numbers from the films."""
    left, right = reels[step.left], reels[step.right]
    told = _TOLD[step.key]
    at = 4 * step.years
    return [
        told(_Seen(left, r, at, system), _Seen(right, r, at, system), step.years) for r in range(len(left.replicates))
    ]


class _Seen:
    """Numbers of one strategy in one run of luck, at the start and when a step ends."""

    def __init__(self, reel: Reel, replicate: int, at: int, system: str) -> None:
        self.series, self.at, self.system = reel.series[replicate], at, system
        self.facts = reel.facts[replicate]

    def count(self, name: str, at: int | None = None) -> str:
        return f"{int(self.series[name][self.at if at is None else at]):,}"

    def area(self, name: str = "mat_area", at: int | None = None) -> str:
        return area(float(self.series[name][self.at if at is None else at]), self.system)

    def number(self, name: str) -> float:
        return float(self.series[name][self.at])


def _less(left: float, right: float) -> str:
    """Which side has less, said so that a tie is a tie."""
    least, most = min(left, right), max(left, right)
    if most - least <= 0.05 * most:
        return "about the same on both sides"
    return "less on the left" if left < right else "less on the right"


def _vote(left: _Seen, right: _Seen, years: int) -> str:
    which = _less(left.number("mat_area"), right.number("mat_area"))
    return (
        f"After {years} years in this run of luck: {left.area()} of mat on the left, {right.area()} on the right - "
        f"{which}. Now another run of luck: is it the same side?"
    )


def _seed(left: _Seen, right: _Seen, years: int) -> str:
    return (
        f"In {years} years of this run of luck {left.count('landed')} seeds that could grow landed on the left, "
        f"{right.count('landed')} on the right. The mat was {left.area()} and {right.area()}: it is not the mat that "
        f"bears, it is the climbed hosts ({left.count('fruiting')} fruit on the left, {right.count('fruiting')} on the "
        "right)."
    )


def _cutting(left: _Seen, right: _Seen, years: int) -> str:
    return (
        f"Cut only, for {left.count('hours')} hours: the mat went from {left.area(at=0)} to {left.area()} in {years} "
        f"years, and {left.count('climbed')} hosts are climbed. With clearing as well: {right.area()} of mat. "
        f"Fruiting hosts: {left.count('fruiting')} and {right.count('fruiting')}."
    )


def _clearing(left: _Seen, right: _Seen, years: int) -> str:
    return (
        f"Mats cleared under fruiting hosts: these went from {left.count('fruiting', 0)} to {left.count('fruiting')} "
        f"in {years} years, and birds founded {left.count('rooted')} new patches. With the stems cut as well: "
        f"{right.count('fruiting')} fruit, {right.count('rooted')} new patches."
    )


def _return(left: _Seen, right: _Seen, years: int) -> str:
    return (
        f"After {years} years: {left.area()} of mat where people look and come back, {right.area()} where they don't - "
        f"{right.area('unknown_area')} of it known to nobody. Hours worked: {left.count('hours')} and "
        f"{right.count('hours')}."
    )


def _home(left: _Seen, right: _Seen, years: int) -> str:
    outside, landed = left.facts["outside"], left.facts["landed"]
    return (
        f"Left alone: {left.area()} of mat after {years} years. With a plan: {right.area()}. Of {landed:,} seeds that "
        f"landed where nobody worked, {outside:,} came from vine outside the site."
    )


_TOLD: Mapping[str, Callable[[_Seen, _Seen, int], str]] = MappingProxyType(
    {
        "vote": _vote,
        "seed": _seed,
        "cutting": _cutting,
        "clearing": _clearing,
        "return": _return,
        "home": _home,
    }
)


def cautions(treatments: Sequence[Any]) -> list[str]:
    """Every caution of the treatments in use, once."""
    return list(dict.fromkeys(text for treatment in treatments for text in treatment.cautions))
