"""The keys of our files and their types. What the values may be is checked by the objects made of them."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, create_model


class Table(BaseModel):
    """A table of a file: no other keys, and no text where a number belongs."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class FollowUpTable(Table):
    """``follow_up`` of a task."""

    every: int = 4
    clean: int = 2
    treatment: str | None = None


class TaskTable(Table):
    """One of ``[[strategies.tasks]]``."""

    treatment: str
    name: str | None = None
    targets: str = "all"
    order: str | None = None
    units: list[str] = []
    seasons: list[str] = []
    years: list[int] | None = None
    share: float = 1.0
    cap: float | None = None
    new_ground: Any = None  # a number of m2, or a text with another unit
    follow_up: dict[str, Any] | None = None
    not_until: str | None = None
    instead: str | None = None
    crews: list[str] = []
    haul_out: bool = False
    permit_seasons: int = 0


class StrategyTable(Table):
    """One of ``[[strategies]]``."""

    name: str
    tasks: list[dict[str, Any]] = []
    reserve_follow_up: bool = True
    why: str = ""


class CrewTable(Table):
    """One of ``[[crews]]``."""

    name: str
    hours: Any  # a number, or a table by season
    may: list[str] = ["all"]
    volunteers: bool = False
    pace: float = 1.0
    turnout: float = 1.0
    price: float = 0.0
    paid: bool = True
    people: float = 1.0
    turnout_spread: float = 0.0
    session_hours: float | None = None
    setup_hours: float = 0.0
    leader: str | None = None
    people_per_leader: float = 9.0
    walking_minutes: float = 0.0
    minimum_charge: float = 0.0
    lead_seasons: int = 0
    years: list[int] | None = None


class WeatherTable(Table):
    """``[weather]``."""

    fit_days: Any = None  # a number, or a table by season
    monthly: dict[str, Any] | None = None
    daily: str | None = None
    min_temperature: float | None = None
    max_wind: float | None = None
    closed_months: list[Any] = []  # names or numbers
    closed_days: list[str] = []


class MonthlyTable(Table):
    """``monthly`` of the weather."""

    temperature: list[float]
    temperature_sd: list[float]
    rain_days: list[float]
    wind_days: list[float]
    snow_days: list[float]
    year_sd: float | None = None


class FundTable(Table):
    """One of ``[[funds]]``."""

    name: str
    amount: float
    years: list[int] | None = None
    crews: list[str] = []


class EventTable(Table):
    """One of ``[[events]]``; lengths are numbers, or texts with another unit."""

    kind: str
    radius: Any
    year: int | None = None
    per_year: float = 0.0
    season: str = "spring"
    x: Any = None
    y: Any = None
    trees_fall: float = 0.0


# One of ``boundary_mat`` of a site; made so because "from" is a word of Python.
_STRETCH: dict[str, Any] = {"side": (str, ...), "from": (float, 0.0), "to": (float | None, None)}
BoundaryTable: type[Table] = create_model("BoundaryTable", __base__=Table, **_STRETCH)


class FileTable(Table):
    """A file named by a site with what has to be known to read it; a text alone stands for its ``file``."""

    file: str
    layer: str | None = None
    sheet: str | None = None
    band: int | None = None
    crs: str | None = None
    scale: str | None = None
    nodata: float | None = None
    unknown: float | None = None
    clip: bool = False
    fields: dict[str, str] = {}
    # of GPX and KML files: what their points and tracks don't say
    width: float | None = None
    radius: float | None = None
    cover: Any = None
    state: str | None = None


class SurveyTable(Table):
    """``survey`` of a site; a text alone stands for its ``file``."""

    file: str
    sheet: str | None = None
    species: str | None = None


class TotalsTable(Table):
    """``[totals]`` of a site: the steward's own; areas are numbers of ha or acres, or texts with a unit."""

    area: Any = None
    mat_area: Any = None
    hosts: int | None = None
    climbed: int | None = None
    fruiting: int | None = None


class SiteTable(Table):
    """A site file, or ``[site]`` of an experiment."""

    title: str = ""
    notice: str = ""
    units: str = "metric"
    cell_size: float | None = None
    width: float | None = None
    height: float | None = None
    origin: list[float] | None = None
    crs: str | None = None
    corner: list[float] | None = None
    layers: str | None = None
    unit_names: list[str] | None = None
    # from here on: a file's name, or a FileTable
    boundary: Any = None
    barriers: Any = None
    plantable: Any = None
    unit: Any = None
    access: Any = None
    wetness: Any = None
    sensitive: Any = None
    no_spray: Any = None
    mat: Any = None
    mats: Any = None
    hosts: Any = None
    sources: Any = None
    host_counts: Any = None
    placing_seed: int = 1
    canopy: Any = None  # or a number, or "from hosts"
    crown_radius: float | None = None
    canopy_window: float | None = None
    background_seed: float = 0.0
    boundary_mat: list[dict[str, Any]] = []
    totals: dict[str, Any] | None = None
    survey: Any = None  # a file's name, or a SurveyTable


class FactorTable(Table):
    """One of ``sweep.factors``; a list stands for its ``values``."""

    values: list[Any] | None = None
    low: float | None = None
    high: float | None = None
    scale: str | None = None
    levels: int | None = None
    beyond_range: bool = False


class SweepTable(Table):
    """``[sweep]``."""

    kind: str = "grid"
    factors: dict[str, Any] = {}
    points: Any = None  # a number; the points themselves where they are listed
    seed: int = 0


class ExperimentTable(Table):
    """The top of an experiment file."""

    title: str
    vine: str
    site: dict[str, Any]
    notice: str = ""
    years: int = 30
    replicates: int = 200
    seed: int = 1
    units: str = "metric"
    currency: str = "USD"
    price_year: int | None = None
    treatments: list[str] = []
    fixed_parameters: bool = False
    map_years: list[int] | None = None
    parameters: dict[str, Any] = {}
    weather: dict[str, Any] = {}
    crews: Any = []  # tables, or a file's name, or a FileTable
    strategies: list[dict[str, Any]] = []
    funds: list[dict[str, Any]] = []
    events: list[dict[str, Any]] = []
    sweep: dict[str, Any] = {}  # no part of the experiment: see design_file
    start: str | None = None  # a file of a learned state
    goals: dict[str, Any] = {}  # carried along: see analysis/own_goals.py
