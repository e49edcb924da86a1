"""What a survey notes: the columns of its three sheets, in plain words, for the template and the printed form."""

from __future__ import annotations

from dataclasses import dataclass

from spreadsim.inputs.hosts import GIRTHS, KINDS, STATES
from spreadsim.inputs.table_files import SHEETS
from spreadsim.schema import SEASONS

YES_NO = ("yes", "no")


@dataclass(frozen=True)
class Column:
    """A column of a sheet.

    Attributes
    ----------
    heading : str
        As the readers of tables understand it.
    explanation : str
        For whoever fills it in.
    example : str or float
        Invented.
    choices : tuple of str
        What may stand there; empty: anything.
    low, high : float or None
        Ends of what may stand there; both None: no number.
    """

    heading: str
    explanation: str
    example: str | float = ""
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True)
class Sheet:
    """A sheet: its name, and its columns."""

    name: str
    columns: tuple[Column, ...]


def survey_sheets(*, feet: bool = False, degrees: bool = False) -> tuple[Sheet, Sheet, Sheet]:
    """Give the sheets of mats, of climbed hosts, and of crews and hours.

    Parameters
    ----------
    feet : bool
        Lengths in feet, not metres.
    degrees : bool
        Places as longitude and latitude, as a phone shows them.
    """
    unit, scale = ("ft", 3.0) if feet else ("m", 1.0)
    places = _degrees() if degrees else _lengths(unit, scale)
    mats = (
        Column("tag", "", "# example"),
        *places,
        Column(f"radius ({unit})", "of a circle as large as the mat; draw a long mat as several", 4 * scale, low=0),
        Column("cover", 'living cover: 0.3, 30 %, or a class with its scale: "daubenmire 3"', "30 %"),
        Column("notes", "for yourself"),
    )
    hosts = (
        Column("tag", "", "# example"),
        *places,
        Column("state", "bare: no vine on it; climbing: vine without fruit; fruiting", "fruiting", STATES),
        Column("kind", "empty: tree", "tree", KINDS),
        Column("girth", "of the host, for hours of work; empty: medium", "large", GIRTHS),
        Column(f"height ({unit})", "empty: usual for its kind", 20 * scale, low=0),
        Column("years climbing", "since the vine began to climb; empty: not known", 6, low=0),
        Column("known", "whether you know of the vine before work begins; empty: yes", "yes", YES_NO),
        Column("notes", "for yourself"),
    )
    return Sheet("mats", mats), Sheet(SHEETS["hosts"][0], hosts), Sheet(SHEETS["crews"][0], _crews())


def _lengths(unit: str, scale: float) -> tuple[Column, ...]:
    corner = "from the south-west corner of the site"
    return (
        Column(f"x ({unit})", f"to the east, {corner}", 35 * scale, low=0),
        Column(f"y ({unit})", f"to the north, {corner}", 60 * scale, low=0),
    )


def _degrees() -> tuple[Column, ...]:
    decimal = "decimal degrees, not minutes and seconds"
    return (
        Column("longitude", f"{decimal}; west is negative", -90.25, low=-180, high=180),
        Column("latitude", f"{decimal}; south is negative", 38.75, low=-90, high=90),
    )


def _crews() -> tuple[Column, ...]:
    example = dict(zip(SEASONS, (60.0, 25.0, 5.0, 80.0), strict=True))
    return (
        Column("no", "", "# example"),
        Column("name", "short, each one once", "volunteers"),
        *(Column(season, f"hours planned in {season} of a year", example[season], low=0) for season in SEASONS),
        Column(
            "may", "treatments it may do, commas between; empty: all (herbicide: as law and label allow)", "cut, pull"
        ),
        Column("volunteers", "empty: no; volunteers use no herbicide unless named", "yes", YES_NO),
        Column("price", "of an hour", 30, low=0),
        Column("paid", "whether that is cash; empty: yes", "no", YES_NO),
        Column("pace", "work in an hour, staff being 1; empty: 1", 0.7, low=0, high=2),
        Column("turnout", "share of planned hours that come; empty: 1", 0.8, low=0, high=1.5),
        Column("notes", "for yourself"),
    )
