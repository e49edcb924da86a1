"""Every dimension and variable of the outcomes, and the one builder that makes a dataset of them.

Nothing else in the package names a dimension, a unit or a description of an outcome; a name that is
not registered here is an error, so that a misspelt variable cannot slip into a result.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np
import xarray as xr

SEASONS = ("winter", "spring", "summer", "autumn")
CONVENTIONS = "CF-1.11, ACDD-1.3"
FIRST_YEAR = "first_year"  # attribute: the year at whose end outcomes begin, where it is not that of the map

_STATE = ("strategy", "replicate", "year")
_WORK = ("strategy", "replicate", "year", "season", "task")
_MAP = ("strategy", "year", "y", "x")


@dataclass(frozen=True)
class Variable:
    """What one variable of the dataset is.

    Parameters
    ----------
    dims
        Dimensions in order; `strategy` is left out where only one strategy was run.
    dtype
        numpy type in memory and on disk.
    units
        UDUNITS text; "1" for counts, shares and money.
    long_name
        What the numbers are, for people.
    standard_name
        Name in the CF table, or "".
    flow
        Whether it is an amount of a year, missing (NaN) at year 0.
    money
        Whether it is an amount of money: the dataset's currency and price year are put on it.
    """

    dims: tuple[str, ...]
    dtype: str
    units: str
    long_name: str
    standard_name: str = ""
    flow: bool = False
    money: bool = False

    @property
    def is_map(self) -> bool:
        """Whether it lies on the ground (y, x)."""
        return "x" in self.dims


VARIABLES: Mapping[str, Variable] = MappingProxyType(
    {
        "mat_area": Variable(_STATE, "f8", "m2", "cover of the mat times cell area, summed over the site"),
        "infested_area": Variable(_STATE, "f8", "m2", "ground with mat on it (infested shares of cells, summed)"),
        "climbed_hosts": Variable(_STATE, "i4", "1", "hosts with climbing stems, fruiting ones included"),
        "fruiting_hosts": Variable(_STATE, "i4", "1", "hosts that bore fruit in the year"),
        "fallen_hosts": Variable(_STATE, "i4", "1", "hosts fallen since the site was mapped"),
        "seeds_produced": Variable(_STATE, "f8", "year-1", "seeds borne in the year", flow=True),
        "seeds_exported": Variable(
            _STATE, "f8", "year-1", "seeds carried off the site by birds in the year", flow=True
        ),
        "new_patches": Variable(_STATE, "f8", "year-1", "patches founded by birds that rooted in the year", flow=True),
        "native_cover": Variable(_STATE, "f8", "1", "cover of native plants, mean over plantable ground"),
        "known_area": Variable(_STATE, "f8", "m2", "infested area that the steward knows of"),
        "known_fruiting_hosts": Variable(_STATE, "i4", "1", "fruiting hosts that the steward knows of"),
        "hours": Variable(_WORK, "f8", "h", "hours worked", flow=True),
        "follow_up_hours": Variable(_WORK, "f8", "h", "hours of them spent on follow-up visits", flow=True),
        "cost": Variable(_WORK, "f8", "1", "cash for wages, minimum charges and material", flow=True, money=True),
        "match": Variable(_WORK, "f8", "1", "value of unpaid hours, no cash", flow=True, money=True),
        "area_treated": Variable(_WORK, "f8", "m2", "ground treated", flow=True),
        "hosts_treated": Variable(_WORK, "f8", "1", "hosts treated", flow=True),
        "hours_available": Variable(
            ("strategy", "replicate", "year", "season"), "f8", "h", "hours that the crews had", flow=True
        ),
        "hours_unspent": Variable(
            ("strategy", "replicate", "year", "season", "reason"), "f8", "h", "hours not worked, and why", flow=True
        ),
        "fund_left": Variable(("strategy", "replicate", "year", "fund"), "f8", "1", "money left in a fund", money=True),
        "sources_standing": Variable(_STATE, "i4", "1", "planted sources of seed outside that still stand"),
        "occupancy": Variable(_MAP, "f4", "1", "share of replicates with mat in the cell"),
        "mean_cover": Variable(_MAP, "f4", "1", "cover of the mat, mean over replicates", "vegetation_area_fraction"),
        "mat_cover": Variable(
            ("strategy", "replicate", "year", "y", "x"),
            "f4",
            "1",
            "cover of the mat",
            "vegetation_area_fraction",
        ),
    }
)

COORDINATES: Mapping[str, Mapping[str, str]] = MappingProxyType(
    {
        "design": {"long_name": "design point of a sweep", "units": "1"},
        "strategy": {"long_name": "strategy"},
        "replicate": {"long_name": "replicate world", "standard_name": "realization", "units": "1"},
        "year": {"long_name": "years from the start (0: the start; n: the end of year n)", "units": "1"},
        "season": {"long_name": "season"},
        "reason": {"long_name": "why hours were not worked"},
        "fund": {"long_name": "fund"},
        "task": {"long_name": "position of the task in its strategy", "units": "1"},
        "task_name": {"long_name": "name of the task; empty where the strategy has fewer tasks"},
        "y": {
            "long_name": "cell centre, north",
            "standard_name": "projection_y_coordinate",
            "units": "m",
            "axis": "Y",
        },
        "x": {
            "long_name": "cell centre, east",
            "standard_name": "projection_x_coordinate",
            "units": "m",
            "axis": "X",
        },
    }
)


def build_dataset(
    values: Mapping[str, Any],
    coords: Mapping[str, Any],
    attrs: Mapping[str, Any] | None = None,
    parameters: Mapping[str, tuple[Any, Mapping[str, Any]]] | None = None,
    inputs: Mapping[str, tuple[tuple[str, ...], Any, Mapping[str, Any]]] | None = None,
    factors: Mapping[str, tuple[Any, Mapping[str, Any]]] | None = None,
) -> xr.Dataset:
    """Put outcomes, coordinates and drawn parameters together as one labelled dataset.

    Parameters
    ----------
    values
        Arrays by the names of `VARIABLES`, shaped as registered there (without the strategy
        axis when `coords` has no strategy; behind a design axis when it has design).
    coords
        Coordinates by the names of `COORDINATES`. `season` and `task` are filled in when a
        variable needs them; `task_name` is (strategy, task), or (task,) without strategies.
    attrs
        Attributes of the dataset: title, source, seed and so on. `currency` and `price_year`
        are copied to the variables that are money.
    parameters
        Drawn parameters, "process.name" to (array by replicate, attributes); the attributes
        need `units` and `long_name`. With design points: by replicate, or by design and replicate.
    inputs
        Embedded inputs as `inputs.embed` gives them: name to (dims, array, attributes).
    factors
        What was swept: name of the factor to (its value at each design point, attributes with
        `units` and `long_name`). They become coordinates along `design`.

    Returns
    -------
    xarray.Dataset
        Every variable has `units` and `long_name`.

    Raises
    ------
    ValueError
        A name that is not registered, a shape or type that does not fit, a missing coordinate,
        a parameter or factor without units; all faults are listed.
    """
    faults: list[str] = []
    attrs = dict(attrs or {})
    labels = _coordinates(values, coords, faults)
    sizes = {name: array.shape[0] for name, array in labels.items() if name != "task_name"}
    data: dict[str, Any] = {}
    for name, array in values.items():
        if name not in VARIABLES:
            faults.append(f"variable {name!r} is not registered; registered: {', '.join(VARIABLES)}")
            continue
        dims = dims_of(name, with_strategy="strategy" in labels, with_design="design" in labels)
        fitted = _fitted(name, array, dims, sizes, faults)
        if fitted is not None:
            data[name] = (dims, fitted, _attributes(VARIABLES[name], attrs))
    for name, (array, given) in (parameters or {}).items():
        numbers = np.asarray(array)
        if "." not in name:
            faults.append(f"parameter {name!r} is not named process.name")
        if missing := [key for key in ("units", "long_name") if not str(given.get(key, ""))]:
            faults.append(f"parameter {name!r} has no {' and no '.join(missing)}")
        by = ("design", "replicate") if numbers.ndim == 2 else ("replicate",)
        if numbers.shape != tuple(sizes.get(dim) for dim in by):
            faults.append(f"parameter {name!r} has shape {numbers.shape}, not one value for each replicate")
        data[name] = (by, numbers, dict(given))
    for name, (dims, array, given) in (inputs or {}).items():
        if name in data or name in COORDINATES or name in VARIABLES:
            faults.append(f"embedded input {name!r} has the name of an outcome, a coordinate or a parameter")
        data[name] = (tuple(dims), np.asarray(array), dict(given))
    along = _factors(factors or {}, sizes, {*data, *labels}, faults)
    if faults:
        raise ValueError("outcomes do not fit the schema:\n" + "\n".join(faults))
    names = {name: (_coordinate_dims(name, array), array, dict(COORDINATES[name])) for name, array in labels.items()}
    if attrs.get(FIRST_YEAR) and "year" in names:
        names["year"][2]["long_name"] = "years since the site was mapped (n: the end of year n; the first: the start)"
    return xr.Dataset(data, coords={**names, **along}, attrs={"Conventions": CONVENTIONS, **attrs})


def dims_of(name: str, *, with_strategy: bool = True, with_design: bool = False) -> tuple[str, ...]:
    """Give the dimensions of a registered variable, with or without the strategy axis and the design axis."""
    dims = VARIABLES[name].dims
    dims = dims if with_strategy else tuple(dim for dim in dims if dim != "strategy")
    return ("design", *dims) if with_design else dims


def _factors(
    factors: Mapping[str, tuple[Any, Mapping[str, Any]]],
    sizes: Mapping[str, int],
    taken: Collection[str],
    faults: list[str],
) -> dict[str, tuple[str, Any, dict[str, Any]]]:
    """Coordinates of what was swept; texts as Python's, so that they are found by name."""
    along = {}
    for name, (given, attrs) in factors.items():
        values = np.asarray(given)
        if values.dtype.kind in "US":
            values = values.astype(object)
        if name in taken:
            faults.append(f"factor {name!r} has the name of an outcome, a coordinate or a parameter")
        if missing := [key for key in ("units", "long_name") if not str(attrs.get(key, ""))]:
            faults.append(f"factor {name!r} has no {' and no '.join(missing)}")
        if values.shape != (sizes.get("design"),):
            faults.append(f"factor {name!r} has shape {values.shape}, not one value for each design point")
        along[name] = ("design", values, dict(attrs))
    return along


def _coordinate_dims(name: str, array: np.ndarray[Any, Any]) -> tuple[str, ...]:
    if name == "task_name":
        return ("strategy", "task")[-array.ndim :]
    return (name,)


def _coordinates(
    values: Mapping[str, Any], coords: Mapping[str, Any], faults: list[str]
) -> dict[str, np.ndarray[Any, Any]]:
    """Arrays for the coordinates given, and for `season` and `task` where variables need them."""
    labels: dict[str, np.ndarray[Any, Any]] = {}
    for name, given in coords.items():
        if name not in COORDINATES:
            faults.append(f"coordinate {name!r} is not registered; registered: {', '.join(COORDINATES)}")
        elif name in ("strategy", "season", "reason", "fund", "task_name"):
            labels[name] = np.asarray(given, dtype=str).astype(object)
        elif name in ("y", "x"):
            labels[name] = np.asarray(given, dtype="f8")
        else:
            labels[name] = np.asarray(given, dtype="i8" if name == "replicate" else "i4")
    for name in values:
        dims = VARIABLES[name].dims if name in VARIABLES else ()
        if "season" in dims and "season" not in labels:
            labels["season"] = np.asarray(SEASONS, dtype=object)
        if "task" in dims and "task" not in labels:
            shape = np.shape(values[name])
            labels["task"] = np.arange(shape[-1] if shape else 0, dtype="i4")
    if "task_name" in labels:
        shape = labels["task_name"].shape
        wanted = tuple(len(labels[dim]) for dim in ("strategy", "task") if dim in labels)
        if shape != wanted:
            faults.append(f"coordinate 'task_name' has shape {shape}, not {wanted} (strategy, task)")
    return labels


def _fitted(
    name: str, array: Any, dims: tuple[str, ...], sizes: Mapping[str, int], faults: list[str]
) -> np.ndarray[Any, Any] | None:
    """Cast the array to the registered type, or note what does not fit and give None."""
    numbers = np.asarray(array)
    if missing := [dim for dim in dims if dim not in sizes]:
        faults.append(f"variable {name!r} needs the coordinate {', '.join(missing)}")
        return None
    wanted = tuple(sizes[dim] for dim in dims)
    if numbers.shape != wanted:
        faults.append(f"variable {name!r} has shape {numbers.shape}, not {wanted} ({', '.join(dims)})")
        return None
    kind = np.dtype(VARIABLES[name].dtype)
    if kind.kind == "i" and numbers.dtype.kind == "f":
        # design points of fewer years lack counts at the end, which whole numbers cannot say
        known = numbers[~np.isnan(numbers)] if "design" in dims else numbers
        if not bool(np.all(known == np.rint(known))):
            faults.append(f"variable {name!r} is a count and holds numbers that are not whole")
            return None
        kind = np.dtype("f8") if "design" in dims else kind
    return numbers.astype(kind, copy=False)


def _attributes(variable: Variable, attrs: Mapping[str, Any]) -> dict[str, Any]:
    given: dict[str, Any] = {"units": variable.units, "long_name": variable.long_name}
    if variable.standard_name:
        given["standard_name"] = variable.standard_name
    if variable.money:
        given["currency"] = attrs.get("currency") or "not given"
        if attrs.get("price_year"):
            given["price_year"] = attrs["price_year"]
    return given
