"""Which strategies serve which step of the path: chosen by what they do, never by their names."""

import dataclasses
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from spreadsim.inputs import Experiment, Strategy
from spreadsim.inputs.strategy import NO_ACTION
from spreadsim.inputs.task import kind_of_work

LEAST_YEARS = 2  # years of one kind of work alone that show anything
WITHOUT = "{name}; nobody looks or goes back"


@dataclass(frozen=True)
class Step:
    """A step of the path.

    Attributes
    ----------
    key
        Which of `words.STEPS` it is.
    left, right
        Names of the strategies side by side.
    years
        How many years it plays.
    """

    key: str
    left: str
    right: str
    years: int


@dataclass(frozen=True)
class _Doing:
    """What a strategy does."""

    strategy: Strategy
    stems: int | None  # first year of work on stems; None: never
    mat: int | None
    returns: int  # tasks with follow-up
    looks: float  # largest share of hours for scouting

    @property
    def name(self) -> str:
        return self.strategy.name

    def alone(self, kind: str, years: int) -> int:
        """Years in which stems (or the mat) are worked and the other is not, from the first on."""
        own, other = (self.stems, self.mat) if kind == "stems" else (self.mat, self.stems)
        return min(years, (years + 1 if other is None else other) - 1) if own == 1 else 0

    @property
    def both(self) -> bool:
        return self.stems == 1 and self.mat == 1


def _doing(experiment: Experiment, strategy: Strategy) -> _Doing:
    first: dict[str, int] = {}
    past = experiment.first_year  # years of the path count from the start of the runs
    looks = 0.0
    for task in strategy.tasks:
        kind = kind_of_work(experiment.treatment(task.treatment))
        begin, end = task.years or (1, None)
        if end is not None and end <= past:
            continue
        start = max(1, begin - past)
        first[kind] = min(first.get(kind, start), start)
        if kind == "search":
            looks = max(looks, task.share)
    returns = sum(task.follow_up is not None for task in strategy.tasks)
    return _Doing(strategy, first.get("stems"), first.get("mat"), returns, looks)


def _best(
    found: Sequence[_Doing], rank: Callable[[_Doing], tuple[float, ...]], serves: Callable[[_Doing], bool]
) -> _Doing | None:
    """The one that serves and ranks highest; the first of equals."""
    fit = [one for one in found if serves(one)]
    return max(fit, key=rank) if fit else None


def _care(one: _Doing) -> tuple[float, ...]:
    return one.returns, one.looks


def without_return(strategy: Strategy) -> Strategy:
    """The same strategy, but nobody goes out to look and nobody comes back to what was treated."""
    kept = [task for task in strategy.tasks if task.treatment != "scout"]
    return Strategy(
        WITHOUT.format(name=strategy.name),
        tasks=[dataclasses.replace(task, follow_up=None) for task in kept],
        reserve_follow_up=False,
        why="Made for the class page: what becomes of it if nothing is looked for or followed up.",
    )


def choose_steps(experiment: Experiment) -> tuple[list[Step], dict[str, str]]:
    """Choose the strategies of each step.

    Parameters
    ----------
    experiment
        What is compared.

    Returns
    -------
    list of Step
        In the order of the path, at most six.
    dict
        Steps that no strategy serves, by key, with the reason for the teacher.
    """
    years = experiment.years - experiment.first_year
    found = [_doing(experiment, strategy) for strategy in experiment.strategies]
    cut = _best(found, lambda one: (one.alone("stems", years),), lambda one: one.alone("stems", years) >= LEAST_YEARS)
    clear = _best(found, lambda one: (one.alone("mat", years),), lambda one: one.alone("mat", years) >= LEAST_YEARS)
    both = _best(found, lambda one: (-len(one.strategy.tasks),), lambda one: one.both)
    careful = _best(found, _care, lambda one: one.both and one.returns > 0)
    best = careful or both or cut or clear
    pairs = {
        "vote": (cut, clear, years),
        "seed": (_none(found), cut or both, cut.alone("stems", years) if cut else years),
        "cutting": (cut, both, cut.alone("stems", years) if cut else years),
        "clearing": (clear, both or cut, clear.alone("mat", years) if clear else years),
        "return": (careful, careful, years),
        "home": (_none(found), best, years),
    }
    steps, missing = [], {}
    for key, (left, right, played) in pairs.items():
        if left is None or right is None:
            missing[key] = _NEEDS[key]
            continue
        other = WITHOUT.format(name=right.name) if key == "return" else right.name
        steps.append(Step(key, left.name, other, played))
    return steps, missing


def _none(found: Sequence[_Doing]) -> _Doing | None:
    return next((one for one in found if one.name == NO_ACTION), None)


_CUT = "a strategy that works stems from the first year and no mat for at least two years"
_CLEAR = "a strategy that works mat from the first year and no stems for at least two years"
_BOTH = "a strategy that works stems and mat from the first year"
_NEEDS = {
    "vote": f"it needs {_CUT}, and {_CLEAR}",
    "seed": "it needs a strategy that works stems from the first year",
    "cutting": f"it needs {_CUT}, and {_BOTH}",
    "clearing": f"it needs {_CLEAR}, and one that works stems from the first year",
    "return": f"it needs {_BOTH}, with follow-up",
    "home": "it needs a strategy that works stems or mat from the first year",
}


def films_wanted(experiment: Experiment) -> Experiment:
    """The experiment with the strategies that the page shows beyond its own."""
    steps, _ = choose_steps(experiment)
    returns = next((step for step in steps if step.key == "return"), None)
    if returns is None:
        return experiment
    own = next(strategy for strategy in experiment.strategies if strategy.name == returns.left)
    return dataclasses.replace(experiment, strategies=(*experiment.strategies, without_return(own)))
