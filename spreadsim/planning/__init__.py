"""What is worked out for a decision: so far, whether ground may be called clear."""

from spreadsim.planning.absence import ClearAnswer, may_be_called_clear

__all__ = ["ClearAnswer", "may_be_called_clear"]
