"""What lines of work name, held against the experiment: units, hosts, crews, tasks, treatments."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from dataclasses import dataclass

from spreadsim.errors import MISSING, Said, one_of
from spreadsim.inputs import Experiment
from spreadsim.inputs.checks import Check
from spreadsim.log.entry import Entry

NO_UNIT = ("outside the units", "the whole site")  # as a work list calls ground in none


@dataclass(frozen=True)
class Names:
    """Puts names in order, and notes those that the experiment does not know.

    Attributes
    ----------
    experiment : Experiment
        With the site.
    check : Check
        Where to note.
    """

    experiment: Experiment
    check: Check

    def all_of(self, entries: Iterable[Entry]) -> list[Entry]:
        """Give the lines with names as the experiment has them, and the units in which hosts and points lie."""
        return [self._one(entry) for entry in entries]

    def _one(self, entry: Entry) -> Entry:
        experiment = self.experiment
        strategies = [strategy.name for strategy in experiment.strategies]
        crews = [crew.name for crew in experiment.crews]
        crew = self._known(entry, "crew", crews)
        if not crew and entry.worked and len(crews) == 1:
            crew = crews[0]
        strategy = self._known(entry, "strategy", strategies)
        task, treatment = self._work(entry)
        if entry.worked:
            self._check_needed(entry, crew, crews)
        entry = dataclasses.replace(entry, crew=crew, strategy=strategy, task=task, treatment=treatment)
        return dataclasses.replace(entry, unit=self._unit(entry))

    def _known(self, entry: Entry, name: str, allowed: list[str]) -> str:
        """Give a name as the experiment writes it; capitals make no difference."""
        told = getattr(entry, name)
        found = _as_written(told, allowed)
        if told and found is None:
            nothing = f"none: the experiment has no {name}"
            self.check.add(f"{entry.at}, {name}", told, one_of(allowed) if allowed else nothing)
        return found or ""

    def _work(self, entry: Entry) -> tuple[str, str]:
        """Give task and treatment; a task may be called by its treatment alone."""
        labels = list(dict.fromkeys(t.label for one in self.experiment.strategies for t in one.tasks))
        treatments = list(self.experiment.known_treatments())
        told = [part.strip() for part in entry.treatment.split(" or ") if part.strip()]
        named = [_as_written(part, treatments) for part in told]
        for part, name in zip(told, named, strict=True):
            if name is None:
                self.check.add(f"{entry.at}, treatment", part, one_of(treatments))
        task = _as_written(entry.task, labels)
        if entry.task and task is None:
            alone = _as_written(entry.task, treatments)
            if alone is None:
                allowed = f"a task, {one_of(labels)}, or a treatment, {one_of(treatments)}"
                self.check.add(f"{entry.at}, task", entry.task, allowed)
            elif not told:
                named = [alone]
        return task or "", " or ".join(name for name in named if name)

    def _check_needed(self, entry: Entry, crew: str, crews: list[str]) -> None:
        """Note what must be said of work that was done; a name that is wrong is noted already."""
        self.needed(entry, "date", entry.date, "a day such as 2027-01-30, since somebody worked")
        self.needed(entry, "crew", crew or entry.crew, f"{one_of(crews)}, since somebody worked")
        work = entry.task or entry.treatment
        self.needed(entry, "task", work, "a task or a treatment, since somebody worked")
        wrong = any(problem.place.startswith(f"{entry.at}, ") for problem in self.check.problems.found)
        if self.experiment.site.unit_names and not entry.where and not wrong:
            self.needed(entry, "unit", "", "a unit, a host, or x and y: where somebody worked")
        if entry.done == "no":
            self.check.add(f"{entry.at}, hours", entry.hours, 'none where done says "no"; else "part"')

    def needed(self, entry: Entry, name: str, value: object, allowed: str) -> None:
        """Note what is missing."""
        if not value:
            self.check.add(f"{entry.at}, {name}", MISSING, allowed)

    def _unit(self, entry: Entry) -> str:
        """Give the unit: as named, or where the host or the point lies."""
        site = self.experiment.site
        names = list(site.unit_names)
        unit = _as_written(entry.unit, names)
        stated = bool(entry.unit) and entry.unit.lower() not in NO_UNIT
        if stated and unit is None:
            allowed = one_of(names) if names else "none: the site has no units"
            self.check.add(f"{entry.at}, unit", entry.unit, allowed)
        if entry.host is not None:
            if not 0 <= entry.host < len(site.hosts):
                has = f"0 to {len(site.hosts) - 1}" if len(site.hosts) else "none"
                self.check.add(f"{entry.at}, host", entry.host, f"{has}: the site has {len(site.hosts)} hosts")
                return unit or ""
            there = self._named(int(site.unit.ravel()[site.hosts.cell[entry.host]]))
            if unit is not None and unit != there:
                self.check.add(f"{entry.at}, unit", unit, f"{Said(there or 'none')}, where host {entry.host} stands")
            return there
        if entry.x is not None and entry.y is not None:
            east, north = entry.x - site.origin[0], entry.y - site.origin[1]
            if not (0 <= east <= site.width and 0 <= north <= site.height):
                x0, y0 = site.origin
                allowed = f"x {x0:g} to {x0 + site.width:g}, y {y0:g} to {y0 + site.height:g}, on the site"
                self.check.add(f"{entry.at}, x", Said(f"x {entry.x:g}, y {entry.y:g}"), allowed)
            elif not entry.unit:
                row = min(int((site.height - north) / site.cell_size), site.ny - 1)
                column = min(int(east / site.cell_size), site.nx - 1)
                return self._named(int(site.unit[row, column]))
        return unit or ""

    def _named(self, number: int) -> str:
        return self.experiment.site.unit_names[number - 1] if number else ""


def _as_written(told: str, names: list[str]) -> str | None:
    """Find a name whatever its capitals and blanks; None if it is none of them."""
    if told in names:
        return told
    return next((name for name in names if _plain(name) == _plain(told)), None) if told else None


def _plain(text: str) -> str:
    return " ".join(text.lower().split())


def middle_of(experiment: Experiment, entry: Entry) -> tuple[float, float] | None:
    """Give where a line lies in the site's reference system, its point or its host; None for a unit."""
    site = experiment.site
    if entry.x is not None and entry.y is not None:
        return entry.x, entry.y
    if entry.host is None or entry.host >= len(site.hosts):
        return None
    x0, y0 = site.origin
    return x0 + float(site.hosts.x[entry.host]), y0 + float(site.hosts.y[entry.host])
