"""Reading a second map from files of mats and hosts alone: the ground is that of the first map."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from spreadsim.inputs import Site, read_site
from spreadsim.inputs.checks import Check
from spreadsim.inputs.site_file import build_site


def read_second(
    site: Site,
    whole: str | Path | None = None,
    *,
    mats: str | Path | None = None,
    hosts: str | Path | None = None,
    units: str = "metric",
) -> Site:
    """Read a second map of a site.

    Parameters
    ----------
    site
        The first map.
    whole
        A site file; then `mats` and `hosts` are left out.
    mats, hosts
        Files as a site file may name them: tables with places from the south-west corner, or points and polygons of a
        GIS or a phone where the site has a crs.
    units
        Of lengths in tables, "metric" or "us".

    Raises
    ------
    InputError
        Everything that is wrong with the files.
    """
    if whole is not None:
        return read_site(whole)
    length = 0.3048 if units == "us" else 1.0
    ground = {"cell_size": site.cell_size, "width": site.width, "height": site.height}
    table: dict[str, object] = {"units": units} | {name: value / length for name, value in ground.items()}
    if site.crs is not None:
        table |= {"crs": site.crs, "origin": [part / length for part in site.origin]}
    check = Check("second map")
    parts = {}
    for key, path in (("mats", mats), ("hosts", hosts)):
        if path is not None:
            parts[key] = build_site(table | {key: Path(path).name}, Path(path).parent, check)
    check.done()
    read = [part for part in parts.values() if part is not None]
    if "mats" in parts and "hosts" in parts:
        return replace(read[0], hosts=read[1].hosts)
    return read[0]
