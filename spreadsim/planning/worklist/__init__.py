"""A work list: who does what where in the coming seasons, from what the simulation did in them."""

from spreadsim.planning.worklist.listed import Line, Place, WorkList, work_list
from spreadsim.planning.worklist.sessions import Session, sessions_of
from spreadsim.planning.worklist.tally import Tally, TallyRow, read_tally, tally_rows

__all__ = [
    "Line",
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
