"""Outcomes for other programs: maps as GeoTIFF, ground and hosts as GeoPackage, tables as CSV."""

from spreadsim.exports.geotiff import export_map, map_names
from spreadsim.exports.ground import export_ground
from spreadsim.exports.places import export_places, export_points
from spreadsim.exports.tables import TABLES, export_table, write_rows

__all__ = [
    "TABLES",
    "export_ground",
    "export_map",
    "export_places",
    "export_points",
    "export_table",
    "map_names",
    "write_rows",
]
