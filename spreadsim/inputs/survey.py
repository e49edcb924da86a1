"""Surveys: where people looked, how long, and what they found. Where nobody looked is unknown, not clean."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from spreadsim.errors import one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.cover_classes import Cover
from spreadsim.inputs.dates import Span
from spreadsim.inputs.units import FOOT, SYSTEMS

if TYPE_CHECKING:
    from spreadsim.inputs.site import Site
    from spreadsim.inputs.survey_places import CellRecords, UnitRecords


@dataclass(frozen=True)
class Record:
    """One thing that was looked for, found or not.

    Attributes
    ----------
    place : str
        Where it stands in the file, such as ``line 3``.
    event : str
        What it was found on: records of one event share its effort.
    found : bool
        Whether vine was there.
    dates : tuple of two dates, or None
        First and last day; None if nothing is said.
    unit : str
        Name of the unit (``locationID``); empty if nothing is said.
    xy : tuple of two floats, or None
        m from the south-west corner of the site, where it is said so.
    position : tuple of two floats, or None
        Longitude and latitude in WGS 84.
    uncertainty : float or None
        m within which it lies of there.
    footprint : str
        Outline of the ground in well-known text, longitude first; empty if there is none.
    host : str
        Tag of the host, or its state, if it is about one; empty if it is about ground.
    state : str
        Of the host: ``bare``, ``climbing``, ``fruiting``, or empty.
    cover : Cover or None
        Of the ground, with the code and scale that were noted.
    quantity : tuple of (str, str), or None
        Any other quantity and its type, as noted.
    count : int or None
        Individuals.
    remarks : str
        On how sure the plant was known.
    """

    place: str
    event: str
    found: bool
    dates: Span | None = None
    unit: str = ""
    xy: tuple[float, float] | None = None
    position: tuple[float, float] | None = None
    uncertainty: float | None = None
    footprint: str = ""
    host: str = ""
    state: str = ""
    cover: Cover | None = None
    quantity: tuple[str, str] | None = None
    count: int | None = None
    remarks: str = ""

    @property
    def on_host(self) -> bool:
        """Whether it is about a host; else about ground."""
        return bool(self.host or self.state)


@dataclass(frozen=True)
class Event:
    """One time that people looked somewhere.

    Attributes
    ----------
    name : str
        ``eventID``, or the line of the file.
    hours : float or None
        Hours of all people together.
    area : float or None
        Ground looked at, m2.
    said : str
        The effort as it was noted.
    records : tuple of Record
        What was found, and what was looked for and not found.
    """

    name: str
    hours: float | None
    area: float | None
    said: str
    records: tuple[Record, ...]

    @property
    def found(self) -> bool:
        """Whether vine was found."""
        return any(record.found for record in self.records)


@dataclass(frozen=True)
class Survey:
    """All records of a file.

    Attributes
    ----------
    path : str
        The file.
    events : tuple of Event
        In the order of the file.
    remarks : tuple of str
        What was noticed when it was read and stops nothing.
    corner : tuple of two floats, or None
        Longitude and latitude of the south-west corner of the site that names it, if that says so.
    """

    path: str
    events: tuple[Event, ...]
    remarks: tuple[str, ...] = ()
    corner: tuple[float, float] | None = None

    @property
    def records(self) -> tuple[Record, ...]:
        """All records."""
        return tuple(record for event in self.events for record in event.records)

    def __len__(self) -> int:
        """Count the records."""
        return len(self.records)

    def by_unit(
        self, site: Site | None = None, *, corner: tuple[float, float] | None = None
    ) -> Mapping[str, UnitRecords]:
        """Say for each unit how long was looked and what was found.

        Parameters
        ----------
        site : Site, optional
            Its units are all in the answer, those where nobody looked as unknown; records without ``locationID``
            belong to the unit that their place lies in; where the site has no units, ``locationID`` is left alone.
            Without it, units are those that the records name.
        corner : two floats, optional
            Longitude and latitude of the site's south-west corner, for a site without a reference system.

        Returns
        -------
        mapping of str to UnitRecords
            By name; under ``""`` what lies in none.

        Raises
        ------
        InputError
            Records that name a unit that the site has not, or with places that can't be told on it.
        """
        from spreadsim.inputs.survey_places import by_unit, grounds_of

        return by_unit(self, site, None if site is None else grounds_of(self, site, corner))

    def by_cell(self, site: Site, *, corner: tuple[float, float] | None = None) -> CellRecords:
        """Say for each cell of a site how long was looked and what was found.

        Parameters
        ----------
        site, corner
            As for `by_unit`.

        Returns
        -------
        CellRecords

        Raises
        ------
        InputError
            As `by_unit`.
        """
        from spreadsim.inputs.survey_places import by_cell, grounds_of

        return by_cell(self, site, grounds_of(self, site, corner))


def read_survey(
    path: str | Path, *, name: str | None = None, sheet: str | None = None, units: str = "metric"
) -> Survey:
    """Read survey records with the terms of Darwin Core and of its Humboldt extension.

    Parameters
    ----------
    path : str or Path
        CSV (or tab-separated text), or a spreadsheet. Any of: ``eventID``, ``eventDate`` (ISO 8601, also ranges),
        ``decimalLatitude``, ``decimalLongitude``, ``geodeticDatum``, ``coordinateUncertaintyInMeters``,
        ``footprintWKT``, ``occurrenceStatus`` (present or absent), ``organismQuantity`` with
        ``organismQuantityType``, ``individualCount``, ``samplingEffort``, ``samplingEffortValue`` with
        ``samplingEffortUnit``, ``sampleSizeValue`` with ``sampleSizeUnit``, ``totalAreaSampledInSquareKilometers``,
        ``totalAreaSampledValue`` with ``totalAreaSampledUnit``, ``isAbsenceReported``, ``identificationRemarks``,
        ``identificationQualifier``, ``locationID`` (a unit), ``scientificName``, ``occurrenceID``, ``modified``; and
        in plain words ``x``, ``y`` (m from the south-west corner), ``unit``, ``date``, ``hours``, ``host`` (its tag)
        and ``state``. Other columns are left alone. Rows with one ``eventID`` are of one visit, whose effort counts
        once. Of rows with one ``occurrenceID``, the newest by ``modified`` corrects the others. Positions in another
        ``geodeticDatum`` are brought to WGS 84.
    name : str, optional
        Of the species whose records are wanted; needed if the file has several.
    sheet : str, optional
        Of a spreadsheet; the one called survey, or the only one, if not given.
    units : str
        ``"us"``: ``x`` and ``y`` are in feet, unless their heading says otherwise.

    Returns
    -------
    Survey
        Hours, m2 and dates by event; `Survey.by_unit` and `Survey.by_cell` lay them on a site. Where nobody looked is
        unknown, not clean.

    Raises
    ------
    InputError
        Everything that is wrong, by line: also an absence without effort, since it says nothing, and a row that says
        neither present nor absent.

    Notes
    -----
    The terms are those of Darwin Core (https://dwc.tdwg.org/terms/) and of its Humboldt extension
    (https://eco.tdwg.org/terms/).
    """
    from spreadsim.inputs.survey_rows import read_events

    path = Path(path)
    check = Check(str(path))
    if units not in SYSTEMS:
        check.add("units", units, one_of(SYSTEMS))
    events = read_events(path, check, name, sheet, FOOT if units == "us" else 1.0)
    check.done()
    return Survey(str(path), events, tuple(str(remark) for remark in check.problems.remarks))
