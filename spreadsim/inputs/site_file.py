"""Reading a site from a TOML file and the files that it names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from spreadsim.errors import InputError, one_of
from spreadsim.inputs.checks import Check
from spreadsim.inputs.crs import name_of
from spreadsim.inputs.file_models import SiteTable
from spreadsim.inputs.gis_layers import on_grid, remark_hosts_off_ground
from spreadsim.inputs.gis_site import AUTO, Gis, read_gis
from spreadsim.inputs.gis_source import KEYS, is_gis_file
from spreadsim.inputs.ground_grid import Grid
from spreadsim.inputs.host_counts import place_counts
from spreadsim.inputs.layers_file import LAYERS, read_layers
from spreadsim.inputs.placing import check_corner, place_tables
from spreadsim.inputs.site import Site
from spreadsim.inputs.site_boundary import boundary_of
from spreadsim.inputs.site_context import Context
from spreadsim.inputs.site_grid import grid_of
from spreadsim.inputs.site_ground import canopy_of, mat_of
from spreadsim.inputs.site_survey import survey_of, with_survey
from spreadsim.inputs.site_totals import totals_of
from spreadsim.inputs.table_files import read_tables
from spreadsim.inputs.taking import take
from spreadsim.inputs.toml import read_toml
from spreadsim.inputs.units import SYSTEMS

# The CSV files and spreadsheets that a site may name.
_TABLES = ("hosts", "mats", "sources", "host_counts")


def read_site(path: str | Path) -> Site:
    """Read a site.

    Parameters
    ----------
    path : str or Path
        A TOML file with any of the keys below. All lengths and areas are in metres and hectares, or with
        ``units = "us"`` in feet and acres, also in tables; files of a GIS are in their own units. Files lie in the
        folder of the site file or below it.

        Where a key names a file, a table with ``file`` and what has to be known to read it may stand instead of the
        name, such as ``{ file = "survey.xlsx", sheet = "hosts 2026" }``: of tables ``sheet``, ``fields`` (headings by
        our names), ``crs`` (of their coordinates), ``scale`` (of covers: "percent", "daubenmire", ...), ``clip`` (true
        leaves out what is off the site); of GeoPackages and GeoJSON ``layer``, ``fields``, ``crs``, ``scale``,
        ``clip``; of GeoTIFFs ``band``, ``crs``, ``scale``, ``nodata``, ``unknown`` (what stands where there is
        none); of GPX and KML, for marks that don't say it, ``state``, ``cover``, ``radius`` and ``width``, besides
        ``clip``.

        - ``title``, ``notice``: texts to be shown with it.
        - ``cell_size`` with ``width`` and ``height``; or ``layers``, a NetCDF file in metres with any of ``mat``,
          ``canopy``, ``plantable``, ``unit``, ``access``, ``wetness``, ``sensitive`` and ``boundary_mat``; or none
          of them where GIS files tell the extent, in cells of 2 m if ``cell_size`` says nothing else.
        - ``crs`` (by name, or "auto": the UTM zone that the files lie in) and ``origin`` (its south-west corner);
          or ``corner`` ([longitude, latitude] of that corner) for those without a GIS.
        - ``boundary``, ``barriers``, ``no_spray``: polygons (GeoPackage, GeoJSON, GPX or KML). The vine grows inside
          the boundary and off barriers.
        - ``plantable``, ``unit``, ``sensitive``: polygons, or a GeoTIFF; polygons of units have a field ``name``.
        - ``canopy``, ``mat``, ``access``, ``wetness``: a GeoTIFF. ``canopy`` may also be a share, or "from hosts"
          with ``crown_radius`` and, if wanted, ``canopy_window``.
        - ``unit_names``: of units that are numbers.
        - ``hosts``, ``sources``: a table (CSV, or a sheet of a spreadsheet, .xlsx, such as ``spreadsim template``
          writes) or points; ``mats``: likewise, or polygons with a field ``cover``. Tables have ``x`` and ``y`` from
          the south-west corner, ``easting`` and ``northing``, or ``longitude`` and ``latitude``. Points, tracks and
          outlines of GPX and KML files say what they are by simple words (`phone_words`): "oak, climbing", "mat
          Daubenmire 4"; open tracks need a ``width``, points of mats a ``radius`` and ``cover`` where nothing is said
          of them.
        - ``host_counts``: a table of ``unit``, ``state``, ``count`` and, if wanted, ``kind``: hosts known only as a
          count, placed at random on the ground of their unit and marked as placed, by the seed ``placing_seed`` (1).
        - ``background_seed``: per ha or acre and year.
        - ``boundary_mat``: stretches of a side beyond which mat stands, besides the layer of that name:
          ``[{side = "north", from = 0, to = 120}]``; without from and to all of it.
        - ``totals``: the steward's own (``area``, ``mat_area``, ``hosts``, ``climbed``, ``fruiting``), held against
          the map. ``survey``: records of where people looked, as `read_survey` takes them, with ``species`` beside its
          ``file`` if there are several, and ``sheet``. Both decide no number.

    Returns
    -------
    Site

    Raises
    ------
    InputError
        Everything that is wrong with it and with the files that it names.
    """
    path = Path(path)
    check = Check(str(path))
    site = build_site(read_toml(path), path.parent, check)
    check.done()
    if site is None:
        raise AssertionError("a site that was not made has problems")
    return site


def build_site(table: object, folder: Path, check: Check, place: str = "") -> Site | None:
    """Build a site of a table, noting everything that is wrong.

    Parameters
    ----------
    table : mapping
        The keys of a site file.
    folder : Path
        Where the files that it names lie.
    check : Check
        Where to note.
    place : str
        Where the table stands; empty for the top of the file.

    Returns
    -------
    Site or None
        None if something is wrong.
    """
    before, remarks = len(check.problems), len(check.problems.remarks)
    values, _ = take(SiteTable, table, check, place)
    context = Context(SimpleNamespace(**values), folder, check, place)
    if values["units"] not in SYSTEMS:
        context.add("units", values["units"], one_of(SYSTEMS))
    if not isinstance(table, Mapping) or values["units"] not in SYSTEMS:
        return None
    totals, survey = totals_of(context), survey_of(context)
    gis = _read_files(context)
    grid = None if gis is None else grid_of(context, gis)
    site = None if gis is None or grid is None else _site(context, gis, grid)
    if site is not None:
        site = with_survey(site, survey, check)
    if site is None or len(check.problems) > before:
        return None
    return replace(site, remarks=tuple(str(one) for one in check.problems.remarks[remarks:]), totals=totals)


def _read_files(context: Context) -> Gis | None:
    """Read the layers, the GIS files and the CSV files, lengths into metres; None if GIS files are wrong."""
    path = context.path("layers")
    if path is not None:
        context.layers = read_layers(path, Check(str(path), context.check.problems))
    gis = read_gis(context)
    check_corner(context)
    tables = [key for key in _TABLES if key not in KEYS or not is_gis_file(getattr(context.values, key))]
    read_tables(context, tuple(tables))
    return gis


def _site(context: Context, gis: Gis, grid: Grid) -> Site | None:
    values, layers, shape, size = context.values, context.layers, grid.shape, grid.size
    before = len(context.check.problems)
    crs = _crs(context, gis)
    place_tables(context, grid, crs)
    found = on_grid(context, gis, grid)
    if len(context.check.problems) > before:
        return None
    arrays: dict[str, Any] = {} if layers is None else dict(layers.arrays)
    arrays["boundary_mat"] = boundary_of(context, shape, size)
    names = values.unit_names if found.unit_names is None else found.unit_names
    place_counts(context, grid, {**arrays, **found.arrays}, names)
    canopy = canopy_of(context, shape, size)
    if canopy is not None:
        arrays["canopy"] = canopy
    arrays |= found.arrays
    arrays["mat"] = mat_of(context, grid, arrays)
    if gis:
        remark_hosts_off_ground(context, grid, arrays.get("plantable"))
    origin: Any = (grid.west, grid.south)
    if values.origin is not None:
        origin = [part * context.length for part in values.origin]
    columns = {key: table.columns for key, table in context.tables.items()}
    try:
        return Site.from_arrays(
            size,
            units=arrays.pop("unit", None),
            hosts=columns.get("hosts"),
            sources=columns.get("sources"),
            crs=crs,
            unit_names=names,
            title=values.title,
            notice=values.notice,
            origin=origin,
            background_seed=values.background_seed * context.per_area,
            **arrays,
        )
    except InputError as error:
        _name_files(context, error)
        return None


def _crs(context: Context, gis: Gis) -> str | None:
    """Name the reference system as the site table does, or the layers, or else the GIS files."""
    said, layers = context.values.crs, context.layers
    if gis.crs is not None and (said == AUTO or (said is None and (layers is None or layers.crs is None))):
        return name_of(gis.crs)
    if said == AUTO:
        context.add("crs", said, "a system of reference by name, since no GIS file says where the site lies")
    return layers.crs if said is None and layers is not None else said


def _name_files(context: Context, error: InputError) -> None:
    """Name the file and the line that each problem of `Site.from_arrays` comes from."""
    problems = context.check.problems
    for detail in error.details:
        part = detail.place.split(".")[0].split("[")[0].replace("units", "unit")
        if part in context.tables:
            context.tables[part].absorb(detail, problems)
        elif part in LAYERS and context.layers is not None:
            name = detail.place.replace("units", "unit", 1)
            problems.say(str(context.path("layers")), name, detail.text)
        else:
            problems.say(context.check.thing, context.at(detail.place), detail.text)
