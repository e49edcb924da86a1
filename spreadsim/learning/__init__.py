"""Learning from a new survey: worlds run to its date are weighted by how well they explain what was found."""

from spreadsim.learning.from_survey import learn
from spreadsim.learning.second_map import survey_of_map

__all__ = ["learn", "survey_of_map"]
