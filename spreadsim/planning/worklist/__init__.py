"""A work list: who does what where in the coming seasons, from what the simulation did in them."""

from spreadsim.planning.worklist.listed import Line, WorkList, work_list
from spreadsim.planning.worklist.notes import Notes
from spreadsim.planning.worklist.place import Place
from spreadsim.planning.worklist.sessions import Session, sessions_of
from spreadsim.planning.worklist.tally import Tally, TallyRow, read_tally, tally_rows

__all__ = [
    "Line",
    "Notes",
    "Place",
    "Session",
    "Tally",
    "TallyRow",
    "WorkList",
    "read_tally",
    "sessions_of",
    "tally_rows",
    "work_list",
]
