"""A hash of all that a site has and that decides a number: what was made for one site is told from another's."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from spreadsim.inputs.hashes import hash_of, hash_of_all
from spreadsim.inputs.hosts import GIRTHS, KINDS

if TYPE_CHECKING:
    from spreadsim.inputs.site import Site

_LAYERS = ("mat", "canopy", "plantable", "unit", "access", "wetness", "sensitive", "boundary_mat")
_HOSTS = ("x", "y", "state", "top_light", "height", "years_climbing", "known")


def site_hash(site: Site) -> str:
    """Give the SHA-256 of all that a site has and that decides a number, worked out once."""
    return site.identity


def hash_of_site(site: Site) -> str:
    """Give the SHA-256 of a site's layers, hosts, sources and numbers; texts are no part of it."""
    parts = {name: hash_of(getattr(site, name)) for name in _LAYERS}
    parts |= {f"host {name}": hash_of(getattr(site.hosts, name)) for name in _HOSTS}
    parts["host kind"] = hash_of(np.array([KINDS.index(kind) for kind in site.hosts.kind], "u1"))
    parts["host girth"] = hash_of(np.array([GIRTHS.index(girth) for girth in site.hosts.girth], "u1"))
    parts |= {f"source {name}": hash_of(getattr(site.sources, name)) for name in ("x", "y", "hosts")}
    parts["numbers"] = hash_of(np.array([site.cell_size, site.background_seed]))
    parts["units"] = hash_of(np.frombuffer("\n".join(site.unit_names).encode(), "u1"))
    return hash_of_all(parts)
