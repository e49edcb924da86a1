"""What tasks did, summed and ordered over worlds."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from spreadsim.planning.worklist.snapshots import Snapshot
from spreadsim.planning.worklist.worked import Did, Reader


@dataclass
class PlaceSums:
    """How often a task went to each host or cell in a season, over worlds."""

    count: Any
    visits: Any
    hours: Any
    hidden: Any  # worlds by unit in which it went to a host that can't be gone to yet
    treatments: dict[int, Any] = field(default_factory=dict)  # by row of the treatment, worlds by host

    @classmethod
    def of(cls, size: int, units: int) -> "PlaceSums":
        """Give empty sums; `units` counts the ground in none."""
        return cls(np.zeros(size, "i4"), np.zeros(size, "i4"), np.zeros(size), np.zeros(units, "i4"))

    def add(self, did: Did, hours: Any) -> None:
        """Add one world; a host counts once, whatever was done to it."""
        places = np.unique(did.place)
        self.count[places] += 1
        self.visits[np.unique(did.place[did.visit])] += 1
        np.add.at(self.hours, did.place, hours.sum(axis=1))
        for row in np.unique(did.treatment[did.treatment >= 0]).tolist():
            table = self.treatments.setdefault(row, np.zeros(self.count.size, "i4"))
            table[np.unique(did.place[did.treatment == row])] += 1


@dataclass
class Done:
    """What tasks did in all worlds.

    Attributes
    ----------
    hours : array (worlds, seasons, tasks, 2, crews)
        New ground and follow-up, as the simulation spent them.
    by_unit : array (worlds, seasons, tasks, crews, units + 1)
        The same hours by unit; ground in no unit is 0.
    amounts : array (worlds, seasons, tasks, 3, 2)
        m2 and hosts by treatment: own, follow-up's, the one instead.
    area, hosts : arrays (worlds, seasons, tasks, units + 1)
        Ground and hosts that were gone to, clean visits among them.
    places : dict
        By season and task.
    treatments : tuple of str
        Names by row.
    """

    hours: Any
    by_unit: Any
    amounts: Any
    area: Any
    hosts: Any
    places: dict[tuple[int, int], PlaceSums]
    treatments: tuple[str, ...]


def add_up(reader: Reader, runs: Iterable[list[Snapshot]], worlds: int, seasons: int, crews: int) -> Done:
    """Go through worlds in their order."""
    tasks, units = len(reader.tasks), reader.unit_area.size
    done = Done(
        hours=np.zeros((worlds, seasons, tasks, 2, crews)),
        by_unit=np.zeros((worlds, seasons, tasks, crews, units)),
        amounts=np.zeros((worlds, seasons, tasks, 3, 2)),
        area=np.zeros((worlds, seasons, tasks, units)),
        hosts=np.zeros((worlds, seasons, tasks, units)),
        places={},
        treatments=(),
    )
    for w, shots in enumerate(runs):
        for s, shot in enumerate(shots):
            done.treatments = shot.treatments
            done.hours[w, s], done.amounts[w, s] = shot.hours, shot.amounts
            went = {**reader.cells(shot), **reader.hosts(shot)}
            for t in range(tasks):
                _add_task(reader, done, w, s, t, went.get(t), shot.hours[t])
    return done


def _add_task(reader: Reader, done: Done, w: int, s: int, t: int, did: Did | None, spent: Any) -> None:
    done.by_unit[w, s, t] = reader.by_unit(t, did, spent)
    if did is None:
        return
    stems = reader.kinds[t] == "stems"
    size = len(reader.site.hosts) if stems else reader.area.size
    sums = done.places.setdefault((s, t), PlaceSums.of(size, reader.unit_area.size))
    sums.add(did, did.hours(spent))
    places = np.unique(did.place)
    unit = reader.unit[reader.site.hosts.cell[places]] if stems else reader.unit[places]
    if stems:
        sums.hidden[np.unique(unit[~reader.site.hosts.can_be_gone_to[places]])] += 1
    amount = None if stems else reader.area[places]
    table = done.hosts if stems else done.area
    table[w, s, t] += np.bincount(unit, weights=amount, minlength=reader.unit_area.size)
