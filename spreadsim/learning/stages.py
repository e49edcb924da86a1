"""All worlds run: some as they are drawn before the survey, the others near those that explain it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np

from spreadsim.learning.measure import Area, Count, Missed
from spreadsim.learning.overlooked import Rates
from spreadsim.learning.prior import Prior
from spreadsim.learning.proposal import Proposal, near
from spreadsim.learning.task import Task
from spreadsim.learning.today import Before
from spreadsim.learning.weights import WANTED, Weights, weigh
from spreadsim.learning.worlds import World, Worlds

FIRST = 0.5  # share of the worlds that are drawn as before the survey
ROUNDS = 2  # in which the others are drawn, each near those that explain the survey best so far


class Asked(NamedTuple):
    """What one world says of the survey."""

    log_likelihood: list[float]
    below: list[float]
    drawn: list[float]
    drawn_log_likelihood: list[float]
    missed: Missed
    cells: Any
    overlooked: Any


class Ran(NamedTuple):
    """All worlds, in the order of their numbers.

    Attributes
    ----------
    worlds : Worlds
    rates : dict
        By number of the world: how many things its map lacked.
    tables : dict
        By field of `Asked`, (statistics, worlds).
    missed : array (worlds, 2)
        New patches and hosts that nobody knows of after the survey.
    before : Before
        The maps of the worlds drawn as before the survey.
    weights : Weights
    """

    worlds: Worlds
    rates: dict[int, Rates]
    tables: dict[str, Any]
    missed: Any
    before: Before
    weights: Weights


def run_stages(task: Task, workers: int | None, tell: Callable[[], None], wanted: float = WANTED) -> Ran:
    """Run all worlds of a task, half of them from the prior and half near those that explain the survey.

    The second half is drawn in rounds, each from a proposal that is made of all worlds before it; all worlds together
    are weighted by their likelihood over the mixture of densities that they came from, as a share of the prior's
    (Owen and Zhou 2000, J. Am. Stat. Assoc. 95:135; Cornuet et al. 2012, Scand. J. Stat. 39:798; both from memory).
    Worlds near others have luck of their own, so that nothing is learned twice from the same luck.

    Parameters
    ----------
    task
        What is to be learned.
    workers
        Threads.
    tell
        Called after each world.
    wanted
        How many worlds should count.
    """
    stages = _Stages(task, workers, tell, wanted)
    for numbers in rounds(task.numbers):
        stages.run(numbers)
    return stages.ran()


def rounds(numbers: Sequence[int]) -> Iterator[Sequence[int]]:
    """Give the numbers of the worlds of each round."""
    first = round(FIRST * len(numbers))
    yield numbers[:first]
    ends = [first + round((len(numbers) - first) * k / ROUNDS) for k in range(ROUNDS + 1)]
    yield from (numbers[start:end] for start, end in zip(ends, ends[1:], strict=False))


class _Stages:
    """Runs rounds, and keeps what they gave."""

    def __init__(self, task: Task, workers: int | None, tell: Callable[[], None], wanted: float) -> None:
        self.task, self.workers, self.tell, self.wanted = task, workers, tell, wanted
        self.worlds = Worlds(task.experiment, task.strategy, task.between.seasons, [], task.done)
        world = self.worlds.engine.world
        self.prior = Prior(world.vine, world.treatments, task.measure.overlooked)
        self.proposals: list[tuple[int, Proposal]] = []
        self.rates: list[Rates] = []
        self.asked: list[Asked] = []
        site = task.experiment.site
        self.before = Before(site.ny * site.nx, len(task.measure.overlooked.kinds.leaf_on))

    def run(self, numbers: Sequence[int]) -> None:
        """Run a round: the first one from the prior."""
        scores = {}
        if self.proposals:
            proposal = near(self._scores(), self._weigh(min(self.wanted, 0.25 * len(self.asked))).values)
            scores = proposal.draw(self.task.experiment.seed, numbers)
        else:
            proposal = Proposal((), np.zeros(0), np.zeros((0, 0)))
        given, rates = self.prior.given(scores, numbers)
        part = self.worlds.others(numbers, given)
        by_number = dict(zip(numbers, rates, strict=True))
        for one in part.each(lambda world: self._ask(world, by_number[world.number]), self.workers):
            if not proposal.names:
                self.before.add(one.cells, one.overlooked)
            self.asked.append(one._replace(cells=None, overlooked=None))
            self.tell()
        self.worlds = self.worlds.joined(part)
        self.rates += rates
        self.proposals.append((len(numbers), proposal))

    def _ask(self, world: World, rates: Rates) -> Asked:
        measure, statistics = self.task.measure, self.task.findings.statistics
        chances = measure.chances(world)
        given = measure.statistics(world, chances, rates, statistics)
        observed = [statistic.observed for statistic in statistics]
        return Asked(
            *_held(given, observed, [self.task.experiment.seed, world.number]),
            measure.missed(world, chances, rates),
            world.cells,
            measure.overlooked.density(world, rates),
        )

    def _scores(self) -> dict[str, Any]:
        return self.prior.scores(self.worlds.columns, self.rates)

    def _log_prior(self) -> Any:
        """Give the logarithm of the prior's density over that which the worlds came from, all rounds together."""
        if not any(proposal.names for _, proposal in self.proposals):
            return np.zeros(len(self.asked))
        scores, total = self._scores(), sum(count for count, _ in self.proposals)
        density = sum(count / total * proposal.density(scores) for count, proposal in self.proposals)
        return -np.log(density)

    def _table(self, name: str) -> Any:
        shape = (len(self.asked), len(self.task.findings.statistics))
        return np.array([getattr(one, name) for one in self.asked]).reshape(shape).T

    def _weigh(self, wanted: float) -> Weights:
        return weigh(self._table("log_likelihood").sum(axis=0), wanted, self._log_prior())

    def ran(self) -> Ran:
        """Give all that was run."""
        return Ran(
            self.worlds,
            dict(zip(self.worlds.numbers, self.rates, strict=True)),
            {name: self._table(name) for name in Asked._fields[:4]},
            np.array([one.missed for one in self.asked]),
            self.before,
            self._weigh(self.wanted),
        )


def _held(
    given: Sequence[Count | Area], observed: Sequence[float], key: Sequence[int]
) -> tuple[list[float], list[float], list[float], list[float]]:
    """Hold what a world gives against what was found, and invent one survey of it; its luck is that of its number."""
    luck = np.random.Generator(np.random.PCG64([*key, 0])).random(len(given)).tolist()
    drawn = [one.draw(u) for one, u in zip(given, luck, strict=True)]
    both = list(zip(given, observed, strict=True))
    return (
        [one.log_likelihood(value) for one, value in both],
        [one.below(value) for one, value in both],
        drawn,
        [one.log_likelihood(value) for one, value in zip(given, drawn, strict=True)],
    )
