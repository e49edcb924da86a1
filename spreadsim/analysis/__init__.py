"""Answers from outcomes: contrasts, a summary by measure, and sentences that say what was found."""

from spreadsim.analysis.contrast import contrast

__all__ = ["contrast"]
