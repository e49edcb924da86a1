"""Looking for a better strategy than those given."""

from spreadsim.planning.search.run import search

__all__ = ["search"]
