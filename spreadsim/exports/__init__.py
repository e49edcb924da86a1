"""Outcomes for other programs: maps as GeoTIFF, ground and hosts as GeoPackage, tables as CSV."""

from spreadsim.exports.geotiff import export_map, map_names
from spreadsim.exports.ground import export_ground
from spreadsim.exports.tables import TABLES, export_table

__all__ = ["TABLES", "export_ground", "export_map", "export_table", "map_names"]
