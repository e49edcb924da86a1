"""The log: what was really worked, kept as it came, held against the plan, and given to the simulation."""

from spreadsim.log.adding import Added, add_to_log
from spreadsim.log.entry import Entry, Log
from spreadsim.log.kept import read_log
from spreadsim.log.planned import planned_against_done
from spreadsim.log.work import DoneWork, as_worked, done_work

__all__ = [
    "Added",
    "DoneWork",
    "Entry",
    "Log",
    "add_to_log",
    "as_worked",
    "done_work",
    "planned_against_done",
    "read_log",
]
