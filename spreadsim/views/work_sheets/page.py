"""The work list as one HTML file to print."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from matplotlib.figure import Figure

from spreadsim.analysis.sentences import LIMITS
from spreadsim.analysis.wording import Scale, percent
from spreadsim.errors import InputError
from spreadsim.exports.places import in_degrees
from spreadsim.inputs import units
from spreadsim.views.description import notices
from spreadsim.views.pages import hash_of, picture, templates
from spreadsim.views.work_sheets.session_map import session_map

if TYPE_CHECKING:
    from spreadsim.planning.worklist import Line, Notes, Session, WorkList
from spreadsim.planning.worklist.place import CRUMB

_HERE = Path(__file__).parent
_DOTS = 150  # per inch
_LOWEST, _TALLEST = 2.5, 4.3  # inches, of a map
_FREE = 196.0  # mm of a page for map, tally and what goes with it; the style makes room where this is a bit too much
_LETTERS = (36, 38, 66)  # in a line of what goes with a session: what to take along, look-alikes, cautions
_ROOM = 15  # lines of one tally that leave room for the map
_WIDE, _NARROW = 75, 24  # letters of a line where there is one tally, or two side by side


def work_sheets(work: WorkList, sessions: Sequence[Session], notes: Notes, *, system: str = "metric") -> str:
    """Make the page: hours by season, task and unit, then a sheet for each session.

    Parameters
    ----------
    work, sessions
        From `planning.worklist`.
    notes
        What goes with the work, from `planning.worklist`.
    system
        Units to show, "metric" or "us".

    Returns
    -------
    str
        HTML that needs nothing else; every sheet begins a new page.
    """
    style = (_HERE / "sheets.css").read_text(encoding="utf-8")
    environment = templates(_HERE)
    environment.filters["hours"] = _hours
    return environment.get_template("sheets.html").render(
        style=style,
        style_hash=hash_of(style),
        title=work.experiment.title,
        site=work.experiment.site.title,
        strategy=work.strategy.name,
        notices=notices(work.experiment),
        seasons=[_season(work, season, notes, system) for season in range(work.seasons)],
        sheets=[_sheet(work, session, notes, system) for session in sessions],
        limits=LIMITS,
        origin=work.origin,
    )


def _hours(value: float) -> str:
    """Hours in few digits; no work is "0", and hardly any is not."""
    if value < 0.05:
        return "0" if value < CRUMB else "< 0.1"
    return f"{value:.1f}" if value < 9.95 else f"{value:.0f}"


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:].rstrip('.')}."


def _span(three: tuple[float, float, float]) -> str:
    middle, low, high = (_hours(value) for value in three)
    return middle if low == high else f"{middle} ({low} to {high})"


def _area(value: float, system: str) -> str:
    scale = Scale([value], "area", system)
    return scale.with_unit(scale.text(value))


def _season(work: WorkList, season: int, notes: Notes, system: str) -> dict[str, Any]:
    lines = [line for line in work.lines if line.season == season]
    crews = [crew.name for crew in work.experiment.crews]
    tasks = list(dict.fromkeys(line.task for line in lines))
    told = [(work.strategy.tasks[t].label, notes.of_task(season, t)) for t in tasks]
    texts = [(label, [note[key] for key in ("material", "unfit", "haul", "back") if note[key]]) for label, note in told]
    return {
        "name": work.season_name(season),
        "crews": crews,
        "offered": [_offered(work, season, k) for k in range(len(crews))],
        "totals": [_span(work.total(season, k)) for k in range(len(crews))],
        "lines": [_line(work, line, crews, system) for line in lines],
        "notes": [(label, " ".join(_sentence(text) for text in parts)) for label, parts in texts if parts],
        "later": sum(1 for place in work.places if place.season == season and not place.planned),
    }


def _offered(work: WorkList, season: int, crew: int) -> str:
    """Hours that a crew plans, and the share of them that the list takes."""
    planned, spent = work.planned_hours(season, crew), work.total(season, crew)[0]
    return f"{_hours(planned)} ({percent(spent / planned)} of them)" if planned else "none"


def _line(work: WorkList, line: Line, crews: Sequence[str], system: str) -> dict[str, Any]:
    what = []
    if line.hosts[2]:
        low, high = round(line.hosts[1]), round(line.hosts[2])
        what.append(
            f"{line.hosts[0]:.0f} host{'' if f'{line.hosts[0]:.0f}' == '1' else 's'}"
            + (f" ({low} to {high})" if low != high else "")
        )
    if line.area[2]:
        scale = Scale(line.area, "area", system)
        span = f"{scale.text(line.area[0])} ({scale.span(line.area[1], line.area[2])})"
        what.append(scale.with_unit(span))
    task = work.strategy.tasks[line.task]
    return {
        "task": task.label,
        "treatment": task.treatment if task.label != task.treatment else "",
        "unit": work.unit_name(line.unit),
        "hours": [_span(line.hours[crew]) if crew in line.hours else "" for crew in crews],
        "what": ", ".join(what),
    }


def _sheet(work: WorkList, session: Session, notes: Notes, system: str) -> dict[str, Any]:
    tasks = list(dict.fromkeys(job.place.task for job in session.jobs))
    spots = session.spots
    rows = _rows(work, session, system)
    columns = _columns(rows)
    told = [{"task": work.strategy.tasks[t].label, **notes.of_task(session.season, t)} for t in tasks]
    for t, note in zip(tasks, told, strict=True):
        if not _waits(work, session, t):  # another crew's spraying
            note["unfit"] = ""
    numbers = session.numbers
    named = ", ".join(f"{number} {label}" for label, number in numbers.items()) or "the whole site"
    gear = notes.of_session(session)
    room = _room(columns, [(*gear["gear"], gear["material"]), [gear["alike"], *_texts(told)], gear["cautions"]])
    figure = session_map(work.site, spots, numbers, system=system, height=min(max(room, _LOWEST), _TALLEST))
    return {
        "number": session.number,
        "season": work.season_name(session.season),
        "crew": work.experiment.crews[session.crew].name,
        "units": ", ".join(work.unit_name(unit) for unit in session.units),
        "hours": session.hours,
        "map": _picture(figure),
        "tight": room < _LOWEST,
        "alt": f"Map of the places of sheet {session.number}: {named}.",
        "columns": columns,
        "extra": any(row["extra"] for row in rows),
        "notes": told,
        "gear": gear,
        "where": _where(work, session, system),
    }


def _waits(work: WorkList, session: Session, task: int) -> bool:
    """Whether what a session does for a task needs days that are fit for spraying."""
    names = {name for job in session.jobs if job.place.task == task for name in job.place.treatments}
    return any(work.experiment.treatment(name).needs_fit_weather for name in names)


def _rows(work: WorkList, session: Session, system: str) -> list[dict[str, Any]]:
    """Give the lines of a session's tally."""
    spots, numbers = session.spots, session.numbers
    letters = {place.label: chr(ord("A") + k) for k, spot in enumerate(spots) for place in spot}
    rows = []
    for job in session.jobs:
        place = job.place
        about = f"{letters[place.label]}: " if len(spots) > 1 and place.label in letters else ""
        about += f"{' or '.join(place.treatments)}; {place.about}"
        about += f"; {_area(place.area * job.share, system)}" if place.area else ""
        if job.share < 0.995:
            about += f", part of it ({percent(job.share)})"
        about += "; follow-up visit" if place.visit else ""
        row = {"number": numbers.get(place.label, ""), "label": place.label, "about": about, "hours": job.hours}
        rows.append(row | {"extra": not place.planned})
    return rows


def _columns(rows: list[dict[str, Any]]) -> list[list[dict[str, Any]]]:
    """Set the lines in one table, or in two side by side where one would be too long for the page."""
    if sum(_lines(row, _WIDE) for row in rows) <= _ROOM:
        return [rows]
    total, first = sum(_lines(row, _NARROW) for row in rows), 0.0
    for place, row in enumerate(rows):
        first += _lines(row, _NARROW)
        if first >= total / 2:
            return [rows[: place + 1], rows[place + 1 :]]
    return [rows]


def _room(columns: list[list[dict[str, Any]]], texts: Sequence[Sequence[str]]) -> float:
    """Inches that tally and texts leave for the map, about."""
    letters = _WIDE if len(columns) == 1 else _NARROW
    tally = 6.6 * max(sum(_lines(row, letters) for row in rows) for rows in columns)
    lines = [sum(-(-len(text) // wide) for text in column) for wide, column in zip(_LETTERS, texts, strict=True)]
    return (_FREE - tally - 3.4 * max(lines)) / 25.4


def _texts(told: Sequence[Mapping[str, str]]) -> list[str]:
    """Give what a sheet says of each task."""
    return [note[key] for note in told for key in ("unfit", "haul")]


def _lines(row: dict[str, Any], letters: int) -> float:
    """Height of a line of the tally, 1 being room enough to write in."""
    return max(1.0, 0.5 * -(-len(row["about"]) // letters))


def _where(work: WorkList, session: Session, system: str) -> str:
    """Say where the middle of a session's ground is, for whoever has to be told on the telephone."""
    places = [place for spot in session.spots for place in spot] or [job.place for job in session.jobs]
    x = sum(place.x for place in places) / len(places)
    y = sum(place.y for place in places) / len(places)
    (east, unit), (north, _) = (units.display(value, "length", system) for value in (x, y))
    text = f"{east:,.0f} {unit} east and {north:,.0f} {unit} north of the site's south-west corner"
    site = work.experiment.site
    try:
        longitude, latitude = in_degrees(site, site.origin[0] + x, site.origin[1] + y)
    except InputError:  # nothing says where on earth it lies
        return text
    return f"{abs(latitude):.5f} {'NS'[latitude < 0]}, {abs(longitude):.5f} {'EW'[longitude < 0]} (WGS 84); {text}"


def _picture(figure: Figure) -> str:
    file = BytesIO()
    figure.savefig(file, format="png", dpi=_DOTS, metadata={"Software": None})
    return picture(file.getvalue(), "png")
