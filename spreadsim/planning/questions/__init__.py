"""What stewards ask: each question a function that runs its cases in the same worlds and answers in a sentence."""

from spreadsim.analysis.answer import Answer
from spreadsim.planning.questions.grant import left_of_grant
from spreadsim.planning.questions.ground import ground_kept
from spreadsim.planning.questions.hold import hours_to_hold
from spreadsim.planning.questions.leave import unit_to_leave
from spreadsim.planning.questions.other import other_invader_first
from spreadsim.planning.questions.rates import contractor_or_volunteers
from spreadsim.planning.questions.skipped import skipped_year
from spreadsim.planning.questions.spread import now_or_spread

__all__ = [
    "Answer",
    "contractor_or_volunteers",
    "ground_kept",
    "hours_to_hold",
    "left_of_grant",
    "now_or_spread",
    "other_invader_first",
    "skipped_year",
    "unit_to_leave",
]
