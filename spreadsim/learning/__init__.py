"""Learning from a new survey: worlds run to its date are weighted by how well they explain what was found."""

from spreadsim.learning.again import plan_again
from spreadsim.learning.ahead import ahead
from spreadsim.learning.from_survey import learn
from spreadsim.learning.second_map import survey_of_map
from spreadsim.learning.start_of import start_of

__all__ = ["ahead", "learn", "plan_again", "start_of", "survey_of_map"]
