"""What the brief is made of, and numbers of a score in the reader's units."""

from __future__ import annotations

import textwrap
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from spreadsim.analysis.decision import Decision
from spreadsim.analysis.decision_words import number, score_title, score_unit
from spreadsim.analysis.goals import NET_PRESENT_COST
from spreadsim.analysis.outcomes import MEASURES, Measure, first_year, strategy_names
from spreadsim.analysis.summary import NO_ACTION
from spreadsim.analysis.wording import Scale
from spreadsim.inputs.experiment import Experiment
from spreadsim.inputs.strategy import Strategy

if TYPE_CHECKING:
    from spreadsim.planning.briefing import Beginning, Stopped

FEW_WORLDS = 20
_BY_NAME = {measure.name: measure for measure in MEASURES}


@dataclass(frozen=True)
class Facts:
    """All that the brief tells of.

    Attributes
    ----------
    dataset : xarray.Dataset
        What `compare` returned.
    experiment : Experiment
        What was compared.
    decision : Decision
        The choice among its strategies.
    summary : xarray.Dataset
        From `summarise`, at the last year.
    beginning, stopped
        From `planning.briefing`; None where nothing was run again.
    under : int
        Number of fruiting hosts to stay under.
    system : str
        "metric" or "us".
    """

    dataset: xr.Dataset
    experiment: Experiment
    decision: Decision
    summary: xr.Dataset
    beginning: Beginning | None
    stopped: Stopped | None
    under: int
    system: str

    @property
    def names(self) -> tuple[str, ...]:
        """Strategies in the order of the dataset."""
        return strategy_names(self.dataset)

    @property
    def ranked(self) -> list[str]:
        """Strategies from the best."""
        return [str(name) for name in self.decision.options.sortby("rank")["strategy"].values]

    @property
    def worlds(self) -> int:
        """How many replicate worlds."""
        return int(self.dataset.sizes["replicate"])

    @property
    def years(self) -> int:
        """The last year."""
        return int(self.dataset["year"].values[-1])

    @property
    def first(self) -> int:
        """The year at whose end the runs begin: 0, the map, unless they begin from a learned state."""
        return first_year(self.dataset)

    @property
    def chosen(self) -> Strategy | None:
        """The strategy that is recommended, where anything is and it is any work."""
        if self.nothing_sure:
            return None
        found = (one for one in self.experiment.strategies if one.name == self.decision.choice and one.tasks)
        return None if self.decision.choice == NO_ACTION else next(found, None)

    @property
    def undecided(self) -> tuple[str, ...]:
        """Strategies that cannot be told from the choice by what decides, in order of rank."""
        if self.worlds < 2:
            return tuple(self.ranked[1:])
        if self.decision.reason in ("only one within the limits", "breaks limits least"):
            return ()
        options = self.decision.options
        return tuple(
            name
            for name in self.ranked[1:]
            if np.isfinite(float(options["regret"].sel(strategy=name)))
            and not float(options["ahead_low"].sel(strategy=name)) > 0
        )

    @property
    def nothing_sure(self) -> bool:
        """Whether no option stands out from leaving the site alone."""
        undecided = self.undecided
        return bool(undecided) and NO_ACTION in (self.decision.choice, *undecided)

    def names_of(self, measure: str) -> bool:
        """Whether the summary has a measure."""
        return measure in [str(name) for name in self.summary["measure"].values]


def shorten(text: str, most: int = 60) -> str:
    """Cut a name that would burst a page."""
    return textwrap.shorten(text, most, placeholder="...") if " " in text[:most] else text[:most]


def measure_of(name: str) -> Measure | None:
    """Give a measure by name; None for the net present cost."""
    return _BY_NAME.get(name)


class Amounts:
    """Numbers of the score that decides, all in one unit and with one number of digits."""

    def __init__(self, facts: Facts) -> None:
        decision = facts.decision
        deciding = "" if decision.goals.weights else str(decision.scored["outcome"].values[0])
        measure = None if deciding == NET_PRESENT_COST else measure_of(deciding)
        self.better_higher = measure is not None and measure.better == "higher"
        self.title = score_title(decision)
        self._unit = score_unit(facts.dataset, decision)
        self._scale: Scale | None = None
        if measure is not None and measure.kind in ("area", "share"):
            values = decision.options["mean"].to_numpy()
            self._scale = Scale(values, measure.kind, facts.system)

    def text(self, value: float) -> str:
        """Give a number with its unit."""
        if self._scale is not None:
            return self._scale.with_unit(self._scale.text(value))
        return f"{number(value)} {self._unit}"

    def span(self, low: float, high: float) -> str:
        """Give a range without the unit."""
        if not (np.isfinite(low) and np.isfinite(high)):
            return "-"
        if self._scale is not None:
            return self._scale.span(low, high)
        return f"{number(low)} to {number(high)}"
