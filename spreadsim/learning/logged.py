"""What the log says of single hosts, for worlds that were worked by unit and hours alone."""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping
from typing import Any

import numpy as np
import xarray as xr

from spreadsim.inputs import Experiment
from spreadsim.log import Log

NOT_DONE, DONE, NO_VINE = "not done", "done", "something else"
_MOST_NAMED = 12


def hosts_of_log(experiment: Experiment, log: Log, seasons: int, recorded: Collection[int] = ()) -> dict[int, str]:
    """Give what the log says of hosts that it names by number.

    Only lines that count (corrected ones do not), of treatments that act on stems.

    Parameters
    ----------
    experiment
        Whose treatments the log names.
    log
        From `read_log`.
    seasons
        Lines of later ones are left out.
    recorded
        Hosts of which the survey has a record: it goes before the log.

    Returns
    -------
    dict
        By host: `NOT_DONE`, if nobody worked there (done is no and there are no hours); `DONE`, if a line says yes;
        `NO_VINE`, if plants there were something else and no other line says that somebody worked there. A host that
        was worked in part, or of which nothing is filled in, is not in it.
    """
    stems = {name for name in experiment.known_treatments() if "stems" in experiment.treatment(name).acts_on}
    lines: dict[int, list[Any]] = defaultdict(list)
    for entry in log.counting:
        season = entry.planned_season() if entry.date is None else log.season_of(entry.date)
        in_time = season is None or season < seasons
        if entry.host is not None and entry.filled and in_time and stems & set(entry.treatment.split(" or ")):
            lines[entry.host].append(entry)
    found = {}
    for host in sorted(set(lines) - set(recorded)):
        own = lines[host]
        worked = [entry for entry in own if entry.worked and not entry.something_else]
        if not worked and any(entry.something_else for entry in own):
            found[host] = NO_VINE
        elif any(entry.done == "yes" for entry in worked):
            found[host] = DONE
        elif not worked and all(entry.done == "no" for entry in own):
            found[host] = NOT_DONE
    return found


def as_logged(state: Any, known: Any, mapped: Any, hosts: Mapping[int, str]) -> Any:
    """Put hosts of one world as the log has them, in place, and give which have to be amended whatever they are.

    A host that nobody worked is as the map has it, or further on, and known; that also raises a tree which fell in
    that world. One that was worked and still stands there is bare: its base is gone with it, so it sprouts again less
    than cut stems do. One that is no vine is bare, and nobody comes back to it: bare and known.

    Parameters
    ----------
    state, known
        (hosts,), of the world at the year's end, as the survey left them.
    mapped
        (hosts,), states on the map.
    hosts
        From `hosts_of_log`.
    """
    forced = np.zeros(len(state), bool)
    for host, said in hosts.items():
        if said == NOT_DONE:
            if mapped[host] > 0:
                state[host], known[host] = max(state[host], mapped[host]), True
        elif said == NO_VINE:
            state[host], known[host], forced[host] = 0, True, True
        elif state[host] >= max(mapped[host], 1):
            state[host], known[host] = 0, False
    return forced


def written(hosts: Mapping[int, str]) -> str:
    """Write what `hosts_of` reads."""
    return json.dumps({str(host): said for host, said in hosts.items()})


def hosts_of(learned: xr.Dataset) -> dict[int, str]:
    """Give what was learned of the log's hosts; none for what was written before that was kept."""
    return {int(host): said for host, said in json.loads(learned.attrs.get("logged", "{}")).items()}


def logged_sentences(hosts: Mapping[int, str]) -> Iterator[str]:
    """Say what of the log reached the worlds host by host."""
    for said, one, many in (
        (NOT_DONE, "was logged as not done: it stands as mapped", "were logged as not done: they stand as mapped"),
        (DONE, "was logged as done: it carries no vine as mapped", "were logged as done: none stands as mapped"),
        (NO_VINE, "was logged as something else: taken off", "were logged as something else: taken off"),
    ):
        names = [f"H{host}" for host, what in hosts.items() if what == said]
        if names:
            more = f" and {len(names) - _MOST_NAMED:,} more" if len(names) > _MOST_NAMED else ""
            yield f"{', '.join(names[:_MOST_NAMED])}{more} {one if len(names) == 1 else many}."
