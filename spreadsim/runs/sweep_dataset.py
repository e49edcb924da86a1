"""The finished points of a sweep as one labelled dataset."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.inputs import Treatment, embed
from spreadsim.inputs.design_file import embed_design
from spreadsim.inputs.design_points import DesignPoints
from spreadsim.model.memory import REASONS
from spreadsim.model.pack_plan import in_order_of_use
from spreadsim.model.parameters import describe
from spreadsim.runs.outcomes import BY_YEAR, about
from spreadsim.runs.points import Points, Values
from spreadsim.runs.simulate import treatments_in_use
from spreadsim.runs.sweep_point import PARAMETER
from spreadsim.schema import build_dataset, dims_of

_SHAPING = (".treatment", ".instead")  # fields of a task that change its name and what is drawn


@dataclass
class SweepDataset:
    """Builds the dataset of all points, or of one after the other.

    Parameters
    ----------
    bound
        The design on the experiment.
    points
        All finished.
    replicates
        Their numbers.
    names
        Outcomes, as many as the points have.
    attrs
        Attributes to add.
    """

    bound: DesignPoints
    points: Points
    replicates: Sequence[int]
    names: Sequence[str]
    attrs: Mapping[str, Any]

    def whole(self) -> xr.Dataset:
        """Give all points at once."""
        return self._build(range(len(self.bound)))

    def one_by_one(self) -> Iterator[xr.Dataset]:
        """Give a dataset for each point, `design` of length 1; what is the same for all is in the first alone."""
        for k in range(len(self.bound)):
            yield self._build([k], alone=k > 0)

    def _build(self, chosen: Sequence[int], *, alone: bool = False) -> xr.Dataset:
        rows = [self.points.load(k) for k in chosen]
        values = {name: np.stack([self._padded(name, row[name]) for row in rows]) for name in self._present}
        parameters = {}
        for name, varies in self._parameters.items():
            if alone and not varies:
                continue
            columns = [self._column(row, name) for row in (rows if varies else rows[:1])]
            parameters[name] = (np.stack(columns) if varies else columns[0], self._described[name])
        coords = {"design": list(chosen), **self._coords}
        attrs, inputs = ({}, {}) if alone else self._embedded
        return build_dataset(values, coords, attrs, parameters, inputs, self.bound.factors(chosen))

    @cached_property
    def _embedded(self) -> tuple[dict[str, Any], dict[str, Any]]:
        """Attributes, and the inputs that the sweep can be run again from."""
        attrs, inputs = embed(self.bound.experiment)
        what = f"{BY_YEAR} Run again at each of {len(self.bound):,} points of a design, which are in it."
        attrs = about(self.bound.experiment, self.replicates, what) | attrs | dict(self.attrs)
        return attrs, inputs | embed_design(self.bound.design)

    @cached_property
    def _shapes(self) -> list[tuple[int, Any, Any]]:
        """By point: years, labels of tasks by strategy, treatments in use."""
        shaping = any(place.path == "years" or place.path.endswith(_SHAPING) for place in self.bound.places)
        told = []
        for k in range(len(self.bound) if shaping else 1):
            experiment = self.bound.experiment_at(k)
            labels = tuple(tuple(task.label for task in strategy.tasks) for strategy in experiment.strategies)
            told.append((experiment.years, labels, treatments_in_use(experiment.strategies, experiment.treatments)))
        return told if shaping else told * len(self.bound)

    @cached_property
    def _years(self) -> int:
        return int(max(years for years, _, _ in self._shapes))

    @cached_property
    def _uneven(self) -> bool:
        return any(years < self._years for years, _, _ in self._shapes)

    @cached_property
    def _coords(self) -> dict[str, Any]:
        experiment = self.bound.experiment
        site = experiment.site
        labels = [labels for _, labels, _ in self._shapes]
        most = max(1, *(len(tasks) for tasks in labels[0]))
        x0, y0 = site.origin
        coords: dict[str, Any] = {
            "strategy": [strategy.name for strategy in experiment.strategies],
            "replicate": list(self.replicates),
            "year": np.arange(experiment.first_year, self._years + 1),
            "reason": REASONS,
            "task": np.arange(most),
            "task_name": [_joined([one[s] for one in labels], most) for s in range(len(labels[0]))],
            "y": y0 + (site.ny - np.arange(site.ny) - 0.5) * site.cell_size,
            "x": x0 + (np.arange(site.nx) + 0.5) * site.cell_size,
        }
        if experiment.funds:
            coords["fund"] = [fund.name for fund in in_order_of_use(experiment.funds)]
        return coords

    @cached_property
    def _present(self) -> list[str]:
        first = self.points.load(0)
        return [name for name in self.names if name in first]

    @cached_property
    def _parameters(self) -> dict[str, bool]:
        """Parameters drawn at any point, but not those swept, and whether their draws differ between points."""
        swept = {place.path for place in self.bound.places}
        known: dict[str, np.ndarray] = {}
        varies: dict[str, bool] = {}
        for k in range(len(self.bound)):
            row = self.points.load(k)
            drawn = [name.removeprefix(PARAMETER) for name in row if name.startswith(PARAMETER)]
            for name in [name for name in drawn if name not in swept]:
                column = np.asarray(row[PARAMETER + name])
                same = np.array_equal(known.setdefault(name, column), column)
                varies[name] = varies.get(name, k > 0) or not same
            for name in set(varies) - set(drawn):
                varies[name] = True
        return varies

    @cached_property
    def _described(self) -> Mapping[str, dict[str, str]]:
        used: dict[str, Treatment] = {one.name: one for _, _, treatments in self._shapes for one in treatments}
        return describe(self.bound.experiment.vine, list(used.values()), list(self._parameters))

    def _column(self, row: Values, name: str) -> Any:
        """Values of a parameter by replicate; missing where the point has no use for it."""
        return row[PARAMETER + name] if PARAMETER + name in row else np.full(len(self.replicates), np.nan)

    def _padded(self, name: str, values: Any) -> Any:
        """Values with missing ones after the last year of the point; counts become floats that can be missing."""
        dims = dims_of(name)
        if not self._uneven or "year" not in dims:
            return values
        axis = dims.index("year")
        gap = [(0, 0)] * values.ndim
        gap[axis] = (0, self._years + 1 - self.bound.experiment.first_year - values.shape[axis])
        wider = values if values.dtype.kind == "f" else values.astype("f8")
        return np.pad(wider, gap, constant_values=np.nan)


def _joined(labels: Sequence[Sequence[str]], most: int) -> list[str]:
    """Names of the tasks of a strategy; where points differ, all their names."""
    count = len(labels[0])
    names = [" or ".join(dict.fromkeys(one[t] for one in labels)) for t in range(count)]
    return names + [""] * (most - count)
