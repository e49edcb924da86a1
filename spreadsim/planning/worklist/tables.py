"""The work list as tables: lines of work, places, and what a GIS or a phone gets of them."""

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from spreadsim.planning.worklist.listed import WorkList
from spreadsim.planning.worklist.material import material, task_material
from spreadsim.planning.worklist.notes import come_back, haul_out, unfit_days
from spreadsim.planning.worklist.place import GROUND, HOST, Place
from spreadsim.planning.worklist.sessions import Session
from spreadsim.planning.worklist.worked import treatments_of
from spreadsim.schema import SEASONS

Row = tuple[object, ...]


def line_rows(work: WorkList) -> Iterator[Row]:
    """Give lines of work as a table: a row for each season, unit, task and crew, headings first.

    `crew_hours_planned` is what the crew plans for the whole season, and `share_of_crew_hours` the median's part of it.
    """
    money = f"material_{work.experiment.currency}"
    yield (
        *("year", "season", "unit", "task", "treatment", "crew", "hours_median", "hours_low", "hours_high"),
        *("crew_hours_planned", "share_of_crew_hours"),
        *("hosts_median", "hosts_low", "hosts_high", "area_m2_median", "area_m2_low", "area_m2_high"),
        *("material", money, "material_m3", "haul_out", "if_fewer_fit_days", "come_back", "cautions"),
    )
    crews = [crew.name for crew in work.experiment.crews]
    for line in work.lines:
        task = work.strategy.tasks[line.task]
        used = treatments_of(work.experiment, task)
        cautions = " ".join(dict.fromkeys(text for treatment in used for text in treatment.cautions))
        for place, (crew, hours) in enumerate(line.hours.items()):
            amounts: Row = ("",) * 9
            if place == 0:  # said once
                amounts = (
                    *line.hosts,
                    *line.area,
                    task_material(work, line.season, line.task, line.area[0]),
                    *material(work, line),
                )
            planned = work.planned_hours(line.season, crews.index(crew))
            yield (
                work.year(line.season),
                SEASONS[line.season % 4],
                work.unit_name(line.unit),
                task.label,
                task.treatment,
                crew,
                *(round(one, 2) for one in hours),
                round(planned, 2),
                round(hours[0] / planned, 3) if planned else "",
                *(round(one, 2) if isinstance(one, float) else one for one in amounts),
                haul_out(work, line.season, line.task),
                unfit_days(work, line.season, line.task),
                come_back(work, line.season, line.task),
                cautions,
            )


FIELDS = (
    *("year", "season", "unit", "task", "order", "place", "kind", "x", "y", "treatments", "visit", "planned"),
    *("share_of_worlds", "hours", "area_m2", "about"),
)


def place_row(work: WorkList, place: Place) -> dict[str, Any]:
    """Give a place as a row; x and y in the site's reference system."""
    x0, y0 = work.experiment.site.origin
    values = (
        work.year(place.season),
        SEASONS[place.season % 4],
        work.unit_name(place.unit),
        work.strategy.tasks[place.task].label,
        place.order,
        place.label,
        place.kind,
        x0 + place.x,
        y0 + place.y,
        " or ".join(place.treatments),
        "follow-up" if place.visit else "new",
        "planned" if place.planned else "if hours are left",
        round(place.share, 3),
        round(place.hours, 2),
        round(place.area, 1),
        place.about,
    )
    return dict(zip(FIELDS, values, strict=True))


def place_rows(work: WorkList) -> Iterator[Row]:
    """Give places as a table, headings first."""
    yield FIELDS
    for place in work.places:
        yield tuple(place_row(work, place).values())


def points(work: WorkList, sessions: Sequence[Session]) -> list[tuple[float, float, str, str]]:
    """Give hosts and pieces of ground of the sessions as points: x, y, name, what to do there.

    "2-5 H12" is number 5 of sheet 2; a place that is on several sheets is there as often.
    """
    found: dict[tuple[int, str], tuple[float, float, str, list[str]]] = {}
    for session in sessions:
        numbers = session.numbers
        for job in session.jobs:
            place = job.place
            if place.kind not in (HOST, GROUND):
                continue
            row = place_row(work, place)
            key = session.number, place.label
            if key not in found:
                name = f"{session.number}-{numbers[place.label]} {place.label}"
                about = f"{work.season_name(place.season)}, {row['unit']}, {place.about}"
                found[key] = (row["x"], row["y"], name, [about])
            later = "" if place.planned else ", if hours are left"
            found[key][3].append(f"{row['task']}: {row['treatments']}{later}")
    return [(x, y, name, "; ".join(told)) for x, y, name, told in found.values()]


def layers(work: WorkList) -> dict[str, tuple[str, list[Any], list[dict[str, Any]]]]:
    """Give hosts as points (x, y), and ground as numbered cells, with their rows, for a GIS."""
    hosts = [place for place in work.places if place.kind == HOST]
    ground = [place for place in work.places if place.kind == GROUND]
    rows = [[place_row(work, place) for place in places] for places in (hosts, ground)]
    return {
        "hosts": ("Point", [(row["x"], row["y"]) for row in rows[0]], rows[0]),
        "ground": ("Polygon", [np.asarray(place.cells) for place in ground], rows[1]),
    }
