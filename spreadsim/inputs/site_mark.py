"""A short mark of a site, by which a log that was written on another one is told."""

from __future__ import annotations

import hashlib
import re
from typing import Any

import numpy as np

from spreadsim.inputs.site import Site

_MARK = re.compile(r"\[([0-9a-f]{8})-(\d+)-([0-9a-f]{8})\]")
_UNNAMED = "a site without a title"


def site_mark(site: Site) -> str:
    """Name a site, with a mark of what lines of work refer to: its grid, its units, and where its hosts stand.

    Mats, states of hosts and everything else that a new survey changes are no part of it.
    """
    title = " ".join(site.title.split()) or _UNNAMED
    return f"{title} [{_ground(site)}-{len(site.hosts)}-{_hosts(site, len(site.hosts))}]"


def is_same_site(mark: str, site: Site) -> bool | None:
    """Tell whether a mark is of a site; hosts may have been added at the end of its list since.

    Returns
    -------
    bool or None
        None where the text holds no mark.
    """
    found = _MARK.search(mark)
    if found is None:
        return None
    ground, count, hosts = found[1], int(found[2]), found[3]
    return ground == _ground(site) and count <= len(site.hosts) and hosts == _hosts(site, count)


def _ground(site: Site) -> str:
    grid = f"{site.cell_size:.6g} {site.ny} {site.nx} {site.origin[0]:.2f} {site.origin[1]:.2f} {list(site.unit_names)}"
    return _hash(grid.encode() + np.ascontiguousarray(site.unit, "<i2").tobytes())


def _hosts(site: Site, count: int) -> str:
    """Hash places of the first hosts to the centimetre: reference systems are not worked out alike everywhere."""
    places = np.round(np.array([site.hosts.x[:count], site.hosts.y[:count]]), 2) + 0.0
    return _hash(np.ascontiguousarray(places, "<f8").tobytes())


def _hash(data: Any) -> str:
    return hashlib.sha256(data).hexdigest()[:8]
