"""Learning from a new survey: worlds run to its date are weighted by how well they explain what was found."""

from spreadsim.learning.from_survey import learn

__all__ = ["learn"]
