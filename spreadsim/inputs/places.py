"""Finding the values of an experiment that can be changed, by where they stand."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from spreadsim.errors import InputError, one_of
from spreadsim.inputs.crew import Crew
from spreadsim.inputs.event import Event
from spreadsim.inputs.experiment import Experiment
from spreadsim.inputs.fund import Fund
from spreadsim.inputs.parameter import Parameter
from spreadsim.inputs.strategy import Strategy
from spreadsim.inputs.task import FollowUp, Task
from spreadsim.inputs.weather import Weather
from spreadsim.schema import SEASONS

EVERY = "*"  # in place of a name: all that have the rest of the path
_SAME_WORLDS = ("seed", "replicates")
SETTINGS_VARIED = ("years", "fixed_parameters")
_UNITS = MappingProxyType(
    {
        **dict.fromkeys(("hours", "cap", "session_hours", "setup_hours", *SEASONS), "h"),
        "walking_minutes": "min",
        "new_ground": "m2",
        "years": "year",
    }
)
_ALLOWED = (
    "a parameter of the vine (mat.front_speed) or of a treatment (pull.mat_kill), crews.NAME.hours, crews.NAME.pace, "
    "strategies.NAME.tasks.LABEL.share, weather.fit_days, funds.NAME.amount, years, fixed_parameters, vine"
)


@dataclass(frozen=True)
class Place:
    """One value of an experiment that can be changed.

    Attributes
    ----------
    path : str
        Its name.
    parts : tuple of tuple
        Where it stands: the part of the experiment, its number or name there, and keys down from that; several
        where the path has `EVERY`.
    parameter : Parameter or None
        The parameter, where it is one.
    whole : bool
        Whether it takes whole numbers only.
    unit, long_name : str
        For the dataset.
    """

    path: str
    parts: tuple[tuple[Any, ...], ...]
    parameter: Parameter | None = None
    whole: bool = False
    unit: str = "1"
    long_name: str = ""


def find_place(experiment: Experiment, path: str) -> Place:
    """Find what a path names.

    Parameters
    ----------
    experiment : Experiment
        Where to look.
    path : str
        - ``mat.front_speed``: a parameter of the vine; ``pull.mat_kill``: of a treatment (in SI);
        - ``crews.NAME.FIELD``: any field of a crew; ``hours`` is a number for every season or a table by season,
          ``hours.winter`` those of one, ``hours_factor`` multiplies those of all;
        - ``strategies.NAME.tasks.LABEL.FIELD``: any field of a task, also ``follow_up.every``; a number counted from
          0 may stand for the label, and ``*`` for a strategy's, task's or crew's name: all that have the rest;
        - ``strategies.NAME.reserve_follow_up``, ``weather.FIELD``, ``weather.fit_days.winter``, ``funds.NAME.amount``,
          ``events.NUMBER.FIELD``, ``years``, ``fixed_parameters`` and ``vine`` (a name or file).

    Raises
    ------
    InputError
        If there is no such thing.
    """
    first, _, rest = path.partition(".")
    if path in SETTINGS_VARIED or path == "vine":
        unit = "year" if path == "years" else "1"
        return Place(path, ((path,),), whole=path == "years", unit=unit, long_name=path.replace("_", " "))
    if path in _SAME_WORLDS:
        raise InputError(
            f'factor "{path}": found {path}, allowed anything else: all points have the same worlds, so that they can '
            f"be compared; give {path} to the sweep itself"
        )
    if path in experiment.vine.parameters:
        return _parameter_place(path, ("vine", path), experiment.vine[path])
    if first in experiment.known_treatments() and rest:
        treatment = experiment.treatment(first)
        if rest not in treatment.parameters:
            raise _nothing(path, rest, treatment.parameters)
        return _parameter_place(path, ("treatment", first, rest), treatment[rest])
    if first in ("crews", "strategies", "funds", "events", "weather") and rest:
        parts = tuple(_inner(experiment, path, first, rest))
        leaf = str(parts[0][-1])
        unit = "day" if "fit_days" in parts[0] else _UNITS.get(leaf, "1")
        return Place(path, parts, whole=_is_whole(parts[0]), unit=unit, long_name=_said(path))
    raise InputError(f'factor "{path}": found no such thing in the experiment, allowed {_ALLOWED}')


def _parameter_place(path: str, part: tuple[Any, ...], parameter: Parameter) -> Place:
    if parameter.solved:
        raise InputError(f'factor "{path}": found {path}, allowed anything else: it is solved from other parameters')
    return Place(path, (part,), parameter, unit=parameter.unit, long_name=parameter.note or path)


def _inner(experiment: Experiment, path: str, first: str, rest: str) -> Iterator[tuple[Any, ...]]:
    """Give all parts that a path into a list or the weather names."""
    if first == "weather":
        yield (first, 0, *_keys(path, experiment.weather.to_dict(), rest))
        return
    if first == "events":
        number, _, field = rest.partition(".")
        names = [str(k) for k in range(len(experiment.events))]
        if number not in names:
            raise _nothing(path, number, names)
        yield (first, int(number), *_keys(path, experiment.events[int(number)].to_dict(), field))
        return
    members: Sequence[Any] = getattr(experiment, first)
    names = [member.name for member in members]
    found: list[tuple[Any, ...]] = []
    wrong: InputError | None = None
    chosen, below = _named(path, rest, names)
    for k in chosen:
        try:
            if first == "strategies":
                found += [(first, k, *keys) for keys in _strategy_keys(path, members[k], below)]
            else:
                found.append((first, k, *_keys(path, members[k].to_dict(), below)))
        except InputError as error:
            wrong = wrong or error
    if not found:
        raise wrong or _nothing(path, below, ())
    if wrong and len(chosen) == 1:
        raise wrong
    yield from found


def _strategy_keys(path: str, strategy: Strategy, rest: str) -> Iterator[tuple[Any, ...]]:
    first, _, below = rest.partition(".")
    if rest == "reserve_follow_up":
        yield (rest,)
        return
    if first != "tasks" or not below:
        raise _nothing(path, rest, ("reserve_follow_up", "tasks.LABEL.FIELD"))
    labels = [task.label for task in strategy.tasks]
    numbers = [str(k) for k in range(len(labels))]
    position, _, field = below.partition(".")
    if position in numbers and position not in labels:
        chosen, names = [int(position)], [position]
    else:
        chosen, field = _named(path, below, labels)
        names = sorted({labels[k] for k in chosen})
    if len(chosen) > len(names) and not below.startswith(EVERY):
        raise InputError(
            f'factor "{path}": found {len(chosen)} tasks called {names[0]}, allowed one, or its number: '
            f"{', '.join(str(k) for k in chosen)}"
        )
    for k in chosen:
        plain = strategy.tasks[k].to_dict()
        if field.startswith("follow_up.") and plain["follow_up"] is None:
            if below.startswith(EVERY):
                continue
            raise InputError(f'factor "{path}": found a task without follow_up, allowed one with it')
        yield ("tasks", k, *_keys(path, plain, field))


def _named(path: str, rest: str, names: Sequence[str]) -> tuple[list[int], str]:
    """Give the numbers of the members that a path goes on with, and what follows; names may hold dots."""
    if rest.startswith(f"{EVERY}."):
        return list(range(len(names))), rest[len(EVERY) + 1 :]
    fitting = [name for name in names if rest.startswith(f"{name}.")]
    if not fitting:
        raise _nothing(path, rest.split(".")[0], (*names, EVERY))
    name = max(fitting, key=len)
    return [k for k, other in enumerate(names) if other == name], rest[len(name) + 1 :]


def _keys(path: str, plain: Mapping[str, Any], rest: str) -> tuple[str, ...]:
    """Give the keys down from a part, checked against what it has."""
    keys = tuple(rest.split("."))
    table: Any = plain
    for depth, key in enumerate(keys):
        if depth == 0 and key == "hours_factor" and "hours" in plain:
            return ("hours_factor",) if len(keys) == 1 else ("hours_factor", *keys[1:])
        names = [name for name in table if name not in ("name", "why")] if isinstance(table, Mapping) else []
        if key not in names:
            raise _nothing(path, key, names)
        table = table[key]
    return keys


def _nothing(path: str, found: str, names: Collection[str]) -> InputError:
    return InputError(f'factor "{path}": found "{found}", allowed {one_of(names) if names else "nothing more"}')


def _is_whole(part: tuple[Any, ...]) -> bool:
    """Whether the field takes whole numbers, as its class says."""
    kind: Any = {"crews": Crew, "funds": Fund, "events": Event, "weather": Weather}.get(part[0], Task)
    if "follow_up" in part[:-1]:
        kind = FollowUp
    field = kind.__dataclass_fields__.get(str(part[-1]))
    return field is not None and str(field.type).split(" | ")[0] == "int"


def _said(path: str) -> str:
    return path.replace("_", " ").replace(".", ", ").replace(EVERY, "all")
