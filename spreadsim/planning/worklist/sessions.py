"""Sessions: the planned places of a season handed to crews, cut into as much as a crew does in one go."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from spreadsim.errors import InputError, show
from spreadsim.inputs import Crew
from spreadsim.planning.worklist.allowed import Given, as_allowed
from spreadsim.planning.worklist.listed import WorkList
from spreadsim.planning.worklist.place import CRUMB, FIND, GROUND, HOST, Place

USUAL_HOURS = 24.0  # eight people for three hours; common practice, no source
MOST_PLACES = 24  # on one sheet; a piece of ground takes the room of three
MOST_SPOTS = 6  # on one map
SPOT = 30.0  # m: places nearer to each other belong to one spot, and are walked together
_CRUMB = 0.05  # of a session's hours: less is not cut off a piece of ground
_LEAST = 0.25  # h: for less of a place nobody is sent


@dataclass(frozen=True)
class Job:
    """A place, or part of one, that a session works."""

    place: Place
    hours: float
    share: float = 1.0
    """Of the place's hours; less than 1 where it takes more than one session or crew."""
    spot: int = 0
    """Number of the places that lie together, within its season; 0 for a whole unit."""


@dataclass
class Session:
    """What one crew does in one go.

    Attributes
    ----------
    number : int
        From 1, in the order of work.
    season, crew : int
        From 0.
    jobs : list of Job
        In the order of work.
    """

    number: int
    season: int
    crew: int
    jobs: list[Job] = field(default_factory=list)

    @property
    def hours(self) -> float:
        """Hours of all people together."""
        return sum(job.hours for job in self.jobs)

    @property
    def spots(self) -> list[list[Place]]:
        """Places that lie together, each once, in the order of work; whole units are in none."""
        spots: dict[int, dict[str, Place]] = {}
        for job in self.jobs:
            if job.spot:
                spots.setdefault(job.spot, {})[job.place.label] = job.place
        return [list(places.values()) for places in spots.values()]

    @property
    def numbers(self) -> dict[str, int]:
        """Number of each place on the session's map, from 1 in the order of work, by label."""
        found = dict.fromkeys(job.place.label for job in self.jobs if job.spot)
        return {label: number for number, label in enumerate(found, start=1)}

    @property
    def units(self) -> tuple[int, ...]:
        """Units that it goes to, in the order of work."""
        return tuple(dict.fromkeys(job.place.unit for job in self.jobs))


def sessions_of(work: WorkList, *, hours: float | None = None) -> list[Session]:
    """Cut the planned places into sessions.

    Parameters
    ----------
    work
        From `work_list`.
    hours
        Of a session, all people together; None: the crew's hours a session times its people, or 24.

    Returns
    -------
    list of Session
        By season; a crew's sessions one after the other, unit by unit, and in a unit spot by spot. All sessions of a
        crew in a season take at most the median of what it spent in it in the simulation (and half a host); the first
        crew of the list that does the task takes the first places, as in the model, and none whose treatment it may
        not do; of several its jobs name those that it may. Where planned places leave hours,
        the places for when hours are left follow. Hours in which a crew leads another are no session of its own.

    Raises
    ------
    InputError
        Hours that can't be.
    """
    if hours is not None and not (isinstance(hours, int | float) and 0.5 <= hours <= 1000):
        raise InputError(f"session_hours: found {show(hours)}, allowed 0.5 to 1000")
    crews = work.experiment.crews
    sessions: list[Session] = []
    for season in range(work.seasons):
        shared = _shared_out(work, season)
        for k, crew in enumerate(crews):
            for jobs in _cut(shared[k], hours or _usual(crew)):
                sessions.append(Session(len(sessions) + 1, season, k, jobs))
    return sessions


def _usual(crew: Crew) -> float:
    return crew.session_hours * max(crew.people, 1.0) if crew.session_hours else USUAL_HOURS


def own_hours(work: WorkList) -> Any:
    """Hours that crews work themselves, without leading others: (worlds, seasons, tasks, crews)."""
    crews = work.experiment.crews
    names = [crew.name for crew in crews]
    own = work.crew_hours.copy()
    for k, crew in enumerate(crews):
        if crew.leader:
            own[..., names.index(crew.leader)] -= work.crew_hours[..., k] / crew.people_per_leader
    return np.where(own > 1e-9, own, 0.0)


def _shared_out(work: WorkList, season: int) -> list[list[Job]]:
    """Give each crew its jobs: planned places first, then those for when hours are left, each task by task."""
    spent = own_hours(work)[:, season]
    left = np.median(spent.sum(axis=1), axis=0)
    does = spent.mean(axis=0) > 0
    crews = work.experiment.crews
    jobs: list[list[Job]] = [[] for _ in crews]
    wanted = [place for place in work.places if place.season == season and place.hours >= CRUMB]
    wanted.sort(key=lambda place: (not place.planned, place.task, place.order))
    given = Given(work)
    for place, spot in zip(wanted, _spots(wanted), strict=True):
        if given.has(place):
            continue
        divides = place.kind != HOST
        rest = place.hours
        for k in np.flatnonzero(does[place.task]).tolist():
            mine = as_allowed(work, place, crews[k])
            # a host is not divided between crews: whoever has half of its hours left does it
            if mine is None or rest < CRUMB or left[k] < (min(_LEAST, place.hours) if divides else place.hours / 2):
                continue
            part = min(rest, float(left[k])) if divides else rest
            jobs[k].append(Job(mine, part, part / place.hours, spot))
            given.add(place)
            left[k] -= part
            rest -= part
    return jobs


def _spots(places: list[Place]) -> list[int]:
    """Number the spots: places joined by steps of at most `SPOT` m; 0 for whole units."""
    from scipy.cluster.hierarchy import fcluster, linkage

    local = [k for k, place in enumerate(places) if place.kind in (HOST, GROUND)]
    spots = [0] * len(places)
    if len(local) < 2:
        marks = [1] * len(local)
    else:
        points = np.array([(places[k].x, places[k].y) for k in local])
        marks = fcluster(linkage(points, "single"), SPOT, "distance").tolist()
    for k, mark in zip(local, marks, strict=True):
        spots[k] = int(mark)
    return spots


def _cut(jobs: list[Job], most: float) -> list[list[Job]]:
    """Cut a crew's jobs into sessions, by unit and spot; a unit begins a new one if the last is half full."""
    units = {unit: place for place, unit in enumerate(dict.fromkeys(job.place.unit for job in jobs))}
    spots = {spot: place for place, spot in enumerate(dict.fromkeys(job.spot for job in jobs))}
    sessions: list[list[Job]] = []
    used, unit = 0.0, -1
    in_order = sorted(
        jobs,
        key=lambda job: (
            units[job.place.unit],
            not job.place.planned,
            job.place.kind == FIND,  # what is marked on the map first
            spots[job.spot],
        ),
    )
    for job in in_order:
        rest = job
        while rest.hours >= CRUMB:
            moves = rest.place.unit != unit and used >= most / 2
            if not sessions or moves or used >= most * (1 - _CRUMB) or _is_full(sessions[-1], rest):
                sessions.append([])
                used = 0.0
            unit = rest.place.unit
            room = most - used
            divides = rest.place.kind != HOST and rest.hours > room + most * _CRUMB
            part = room if divides else rest.hours
            share = rest.share * part / rest.hours
            sessions[-1].append(Job(rest.place, part, share, rest.spot))
            used += part
            rest = Job(rest.place, rest.hours - part, rest.share - share, rest.spot)
    return sessions


def _is_full(jobs: list[Job], job: Job) -> bool:
    """Whether a sheet has no room for one more place, or its map for one more spot, or a place has its number."""
    spots = {one.spot for one in jobs} - {0}
    if any(one.place.label == job.place.label and one.place.task != job.place.task for one in jobs):
        return True  # numbers of a sheet are unique
    room = sum(3 if one.place.kind == GROUND else 1 for one in (*jobs, job))
    return room > MOST_PLACES or len(spots | {job.spot} - {0}) > MOST_SPOTS
