"""What tasks did in one season of one world, place by place, with the hours shared out over the places."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from spreadsim.inputs import Experiment, Strategy, Treatment
from spreadsim.inputs.start_site import seen_cells, seen_hosts, site_as_known
from spreadsim.inputs.task import kind_of_work
from spreadsim.planning.worklist.snapshots import Snapshot

NEW, VISIT = 0, 1
GIRTH = {"small": 0.5, "medium": 1.0, "large": 2.0}  # factors on hours, ODD 7.8


@dataclass(frozen=True)
class Did:
    """Places that a task went to in a season of a world; arrays of equal length."""

    place: Any  # numbers of hosts, or of cells
    visit: Any  # whether it was a follow-up visit
    weight: Any  # what it takes relative to the others, by the hours of the treatments
    treatment: Any  # row of the treatment; -1 for a host found clean, and for cells

    def hours(self, spent: Any) -> Any:
        """Share out hours (new or follow-up, crews) over the places: (places, crews)."""
        out = np.zeros((self.place.size, spent.shape[1]))
        for kind in (NEW, VISIT):
            chosen = self.visit == bool(kind)
            total = self.weight[chosen].sum()
            if total > 0:
                out[chosen] = self.weight[chosen, None] / total * spent[kind]
        return out


class Reader:
    """Tells from snapshots which task did what.

    Parameters
    ----------
    experiment, strategy
        What was run.
    """

    def __init__(self, experiment: Experiment, strategy: Strategy) -> None:
        self.site, self.tasks = site_as_known(experiment), strategy.tasks
        self.seen_hosts, self.seen_cells = seen_hosts(experiment), seen_cells(experiment)
        self.treatments = {name: experiment.treatment(name) for name in _names(strategy)}
        self.kinds = [kind_of_work(self.treatments[task.treatment]) for task in self.tasks]
        hosts, site = self.site.hosts, self.site
        self.access = site.access.ravel()
        self.area = site.plantable.ravel() * site.cell_size**2
        self.sensitive = site.sensitive.ravel()
        self.host_size = np.array([GIRTH[girth] for girth in hosts.girth]) * self.access[hosts.cell]
        self.unit = site.unit.ravel().astype(int)
        self.unit_area = np.bincount(self.unit, weights=self.area, minlength=len(site.unit_names) + 1)

    def hosts(self, shot: Snapshot) -> dict[int, Did]:
        """Hosts that each task went to."""
        found: dict[int, list[tuple[int, bool, float, int]]] = {}
        due = shot.before.due
        for j in np.flatnonzero((shot.treated > 0) | (due >= 0)).tolist():
            opened = int(shot.before.hosts[j])
            visited = opened >= 0 and shot.after.due[j] != due[j]
            rows = [k for k in range(len(shot.treatments)) if int(shot.treated[j]) >> k & 1]
            if visited and not any(shot.treatments[k] in _all(self.tasks[opened]) for k in rows):
                floor = self._host_weight(shot, shot.treatments.index(self._visiting(opened)), j, clean=True)
                found.setdefault(opened, []).append((j, True, floor, -1))
            for k in rows:
                visit = visited and shot.treatments[k] in _all(self.tasks[opened])
                t = opened if visit else self._new_task(shot, k, int(shot.after.hosts[j]))
                found.setdefault(t, []).append((j, visit, self._host_weight(shot, k, j), k))
        return {t: _did(rows) for t, rows in found.items()}

    def cells(self, shot: Snapshot) -> dict[int, Did]:
        """Cells that each task went to."""
        cells = shot.worked
        opened, after = shot.before.cells[cells], shot.after.cells[cells]
        visit = opened >= 0
        task = np.where(visit, opened, after)
        lost = np.flatnonzero(task < 0)
        task[lost] = self._without_follow_up(shot)
        out = {}
        for t in np.unique(task[task >= 0]).tolist():
            mine = task == t
            weight = self._cell_weights(shot, t, cells[mine], visit[mine])
            out[t] = Did(cells[mine], visit[mine], weight, np.full(int(mine.sum()), -1))
        planted = np.flatnonzero(shot.after.planted & ~shot.before.planted)
        plants = [t for t, kind in enumerate(self.kinds) if kind == "natives" and shot.hours[t].sum() > 0]
        if planted.size and plants:
            weight = self.area[planted] * self.access[planted]
            out[plants[0]] = Did(planted, np.zeros(planted.size, bool), weight, np.full(planted.size, -1))
        return out

    def by_unit(self, t: int, did: Did | None, spent: Any) -> Any:
        """Hours of a task by crew and unit, (crews, units + 1): all of what it spent.

        Where it went to no places that are known (looking, asking), units take their share of the ground searched;
        what lies beyond the boundary counts as ground in no unit.
        """
        out = np.zeros((spent.shape[1], self.unit_area.size))
        if did is not None and did.place.size:
            unit = self.unit[self.site.hosts.cell[did.place]] if self.kinds[t] == "stems" else self.unit[did.place]
            hours = did.hours(spent)
            for crew in range(spent.shape[1]):
                out[crew] = np.bincount(unit, weights=hours[:, crew], minlength=self.unit_area.size)
        rest = spent.sum(axis=0) - out.sum(axis=1)
        return out + np.where(np.abs(rest) > 1e-9, rest, 0.0)[:, None] * self.searched(t)

    def searched(self, t: int) -> Any:
        """Share of a task's ground in each unit; all in no unit for what lies beyond the boundary."""
        share = self.unit_area.copy()
        if self.kinds[t] == "sources":
            share[:] = 0.0
            share[0] = 1.0
        elif self.tasks[t].units:
            wanted = [name in self.tasks[t].units for name in ("", *self.site.unit_names)]
            share[~np.array(wanted)] = 0.0
        total = share.sum()
        if total <= 0:
            share[0] = total = 1.0
        return share / total

    def _visiting(self, t: int) -> str:
        follow = self.tasks[t].follow_up
        return (follow.treatment if follow and follow.treatment else None) or self.tasks[t].treatment

    def _new_task(self, shot: Snapshot, k: int, opened: int) -> int:
        """Which task gave new ground a treatment: the one that has it open now, else the first that it fits."""
        name = shot.treatments[k]
        if opened >= 0 and name in (self.tasks[opened].treatment, self.tasks[opened].instead):
            return opened
        fits = [t for t, task in enumerate(self.tasks) if name in (task.treatment, task.instead)]
        spent = [t for t in fits if shot.hours[t, NEW].sum() > 0]
        return (spent or fits)[0]

    def _without_follow_up(self, shot: Snapshot) -> int:
        """Task of cells that nobody has open: the first of those without follow-up that spent hours."""
        fits = [t for t, task in enumerate(self.tasks) if self.kinds[t] == "mat" and task.follow_up is None]
        return next((t for t in fits if shot.hours[t, NEW].sum() > 0), -1)

    def _host_weight(self, shot: Snapshot, k: int, j: int, clean: bool = False) -> float:
        row = shot.rows[k]
        return float(row["hours_per_host"] * self.host_size[j] * (row["hours_floor"] if clean else 1.0))

    def _cell_weights(self, shot: Snapshot, t: int, cells: Any, visit: Any) -> Any:
        """What cells take, by the treatments that the task used where they may be used, in shares of its ground."""
        following = bool(visit.any() and shot.amounts[t, 1, 0] > 0)
        weight = self._mixed(shot, t, cells, (0, 2))
        if following:
            weight = np.where(visit, self._mixed(shot, t, cells, (1,)), weight)
        return np.maximum(weight, 1e-12) * self.area[cells] * self.access[cells]

    def _mixed(self, shot: Snapshot, t: int, cells: Any, slots: tuple[int, ...]) -> Any:
        """Hours per m2 by treatments of a task (0 own, 1 follow-up's, 2 instead), in shares of the ground they had."""
        names = (self.tasks[t].treatment, self._visiting(t), self.tasks[t].instead)
        total, parts = np.zeros(cells.size), np.zeros(cells.size)
        for slot in slots:
            name = names[slot]
            if name is None:
                continue
            row = shot.rows[shot.treatments.index(name)]
            barred = self.sensitive[cells] & self.treatments[name].not_on_sensitive
            used = np.where(barred, 0.0, max(float(shot.amounts[t, slot, 0]), 1e-9))
            total += used * row["hours_per_area"] * np.maximum(row["hours_floor"], shot.cover[cells])
            parts += used
        return np.divide(total, parts, out=np.ones(cells.size), where=parts > 0)


def _names(strategy: Strategy) -> list[str]:
    return list(dict.fromkeys(name for task in strategy.tasks for name in _all(task)))


def _all(task: Any) -> tuple[str, ...]:
    """Every treatment that a task may use."""
    following = task.follow_up.treatment if task.follow_up else None
    return tuple(name for name in (task.treatment, following, task.instead) if name)


def treatments_of(experiment: Experiment, task: Any) -> list[Treatment]:
    """Give every treatment that a task may use, its own first."""
    return [experiment.treatment(name) for name in dict.fromkeys(_all(task))]


def _did(rows: list[tuple[int, bool, float, int]]) -> Did:
    place, visit, weight, treatment = (np.array(column) for column in zip(*rows, strict=True))
    return Did(place, visit, weight.astype(float), treatment)
