"""An answer to a steward's question: a sentence, a table to print, and the numbers."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import xarray as xr


@dataclass(frozen=True)
class Answer:
    """What a question gives back.

    Attributes
    ----------
    name : str
        Short; names the files.
    sentence : str
        The answer with its uncertainty, for people.
    table : xarray.Dataset
        All numbers, in SI; every variable along one dimension.
    head, rows : sequences of texts
        The table as it is printed, in the units asked for.
    notes : tuple of str
        What the answer rests on and leaves out.
    """

    name: str
    sentence: str
    table: xr.Dataset
    head: Sequence[str] = ()
    rows: Sequence[Sequence[str]] = ()
    notes: tuple[str, ...] = field(default=())


NEVER = 0  # as a year of entry: not in the years of the experiment


def entry_words(year: int) -> str:
    """Say when a unit is entered."""
    return f"in year {year}" if year != NEVER else "not with these hours"
