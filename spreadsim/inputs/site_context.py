"""What is at hand while a site is built of its files."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from spreadsim.errors import join_places
from spreadsim.inputs.checks import Check
from spreadsim.inputs.csv_files import Table
from spreadsim.inputs.ground_grid import Grid
from spreadsim.inputs.layers_file import Layers
from spreadsim.inputs.paths import beside
from spreadsim.inputs.units import ACRE, FOOT, HECTARE


@dataclass
class Context:
    """What a site is built of, and where problems are noted.

    Attributes
    ----------
    values : SimpleNamespace
        The keys of the site table, with None or defaults where it says nothing.
    folder : Path
        Where the files that it names lie.
    check : Check
        Where to note.
    place : str
        Where the table stands in its file.
    layers : Layers or None
        The layers file, once it is read.
    tables : dict
        ``hosts``, ``mats`` and ``sources``, lengths in metres, as far as they could be read.
    said : dict
        What the site table says of each of those tables: the values of `FileTable`.
    grid : Grid or None
        That of the site, once it is known.
    """

    values: SimpleNamespace
    folder: Path
    check: Check
    place: str
    layers: Layers | None = None
    tables: dict[str, Table] = field(default_factory=dict)
    said: dict[str, dict[str, Any]] = field(default_factory=dict)
    grid: Grid | None = None

    @property
    def length(self) -> float:
        """Metres in a unit of length of the files."""
        return FOOT if self.values.units == "us" else 1.0

    @property
    def per_area(self) -> float:
        """What a number per unit of area of the files is per hectare."""
        return HECTARE / ACRE if self.values.units == "us" else 1.0

    def at(self, key: str) -> str:
        """Give the place of a key in the file."""
        return join_places(self.place, key)

    def add(self, key: str, found: object, allowed: str) -> None:
        """Note a problem at a key."""
        self.check.add(self.at(key), found, allowed)

    def path(self, key: str) -> Path | None:
        """Give the path of a file that a key names; None if there is none or it is refused."""
        name = getattr(self.values, key)
        return None if name is None else beside(self.folder, name, self.check, self.at(key))

    def metres(self, key: str, low: float, high: float) -> float:
        """Give a length in metres, more than `low` and up to `high` metres."""
        given = getattr(self.values, key)
        return self.length * self.check.number(self.at(key), given, low / self.length, high / self.length, above=True)
