"""Answers from outcomes: contrasts, decisions, a summary by measure, and sentences that say what was found."""

from spreadsim.analysis.all_sensitivity import sensitivities
from spreadsim.analysis.contrast import contrast
from spreadsim.analysis.decision import decide
from spreadsim.analysis.goals import Goals, Limit, make_goals, read_goals
from spreadsim.analysis.knowing import survey_value, value_of_knowing, value_of_statistics
from spreadsim.analysis.own_goals import goals_of
from spreadsim.analysis.pairs import contrasts
from spreadsim.analysis.regret import regret
from spreadsim.analysis.scoring import broken, net_present_cost, scores
from spreadsim.analysis.sensitivity import sensitivity
from spreadsim.analysis.surveys import Looking, readings, survey_finds

__all__ = [
    "Goals",
    "Limit",
    "Looking",
    "broken",
    "contrast",
    "contrasts",
    "decide",
    "goals_of",
    "make_goals",
    "net_present_cost",
    "read_goals",
    "readings",
    "regret",
    "scores",
    "sensitivities",
    "sensitivity",
    "survey_finds",
    "survey_value",
    "value_of_knowing",
    "value_of_statistics",
]
