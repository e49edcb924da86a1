"""Outcomes for other programs: maps as GeoTIFF, ground and hosts as GeoPackage, tables as CSV, all of it as Zarr."""

from spreadsim.exports.geotiff import export_map, map_names
from spreadsim.exports.ground import export_ground
from spreadsim.exports.places import export_places, export_points
from spreadsim.exports.tables import TABLES, export_table, write_rows
from spreadsim.exports.zarr_store import export_zarr

__all__ = [
    "TABLES",
    "export_ground",
    "export_map",
    "export_places",
    "export_points",
    "export_table",
    "export_zarr",
    "map_names",
    "write_rows",
]
