"""What of a place a crew may be given: treatments that it may do, and nothing that is on another line already."""

from dataclasses import replace

import numpy as np

from spreadsim.inputs import Crew
from spreadsim.planning.worklist.listed import WorkList
from spreadsim.planning.worklist.place import GROUND, HOST, Place

_SAME = 0.5  # of a piece of ground: more of it on other lines, and it is theirs


def as_allowed(work: WorkList, place: Place, crew: Crew) -> Place | None:
    """Give a place with only those of its treatments that a crew may do; None where it may do none."""
    may = tuple(name for name in place.treatments if crew.may_do(work.experiment.treatment(name)))
    return replace(place, treatments=may) if may else None


class Given:
    """Hosts and ground of a season that somebody is sent to already.

    Worlds differ in which task comes to a place, so a host may be cut by one task in some of them, and by another in
    others; it is cut once.
    """

    def __init__(self, work: WorkList) -> None:
        self.work = work
        self._hosts: set[str] = set()
        self._cells: set[int] = set()

    def has(self, place: Place) -> bool:
        """Tell whether a host's stems, or most of ground that is only for when hours are left, are given."""
        if place.kind == HOST:
            return self._kills(place) and place.label in self._hosts
        if place.kind != GROUND or place.planned or not self._removes(place):
            return False
        return float(np.mean([cell in self._cells for cell in place.cells.tolist()])) > _SAME

    def add(self, place: Place) -> None:
        """Note a place that was given."""
        if place.kind == HOST and self._kills(place):
            self._hosts.add(place.label)
        elif place.kind == GROUND and self._removes(place):
            self._cells.update(place.cells.tolist())

    def _kills(self, place: Place) -> bool:
        return any(self.work.experiment.treatment(name).number("stem_kill") > 0 for name in place.treatments)

    def _removes(self, place: Place) -> bool:
        return all("natives" not in self.work.experiment.treatment(name).acts_on for name in place.treatments)
