"""Areas and counts of a site in a table, beside the steward's own totals, and by unit."""

from __future__ import annotations

import numpy as np

from spreadsim.analysis.wording import Scale
from spreadsim.inputs.remarks import TITLES, apart, counted
from spreadsim.inputs.site import Site
from spreadsim.views.tables import table


def totals_table(site: Site, *, system: str = "metric") -> str:
    """Give areas and counts as understood, and the steward's own totals where there are any.

    Parameters
    ----------
    site
        The site.
    system
        Units to show, "metric" or "us".

    Returns
    -------
    str
        Lines of at most 80 characters.
    """
    told = dict(site.totals)
    rows = []
    for name, value in counted(site).items():
        scale = Scale([value, told.get(name, 0.0)], "area" if name in ("area", "mat_area") else "hosts", system)
        title = "ground that the vine can grow on" if name == "area" else TITLES[name]
        is_area = name in ("area", "mat_area")
        row = [f"{title} ({scale.unit})" if is_area else title, _said(scale, value, is_area)]
        if told:
            given = name in told
            off = given and apart(site, name, told[name])
            row += [_said(scale, told[name], is_area) if given else "-", "differs" if off else "fits" if given else ""]
        rows.append(row)
    scale = Scale([site.area], "area", system)
    rows.insert(0, [f"whole rectangle of the map ({scale.unit})", scale.text(site.area), *(["", ""] if told else [])])
    return table(["", "the map has", *(["your total", ""] if told else [])], rows)


def _said(scale: Scale, value: float, is_area: bool) -> str:
    return scale.text(value) if is_area else f"{value:,.0f}"


def units_table(site: Site, *, system: str = "metric") -> str:
    """Give ground, mat and hosts of each unit; empty where there are no units."""
    if not site.unit_names:
        return ""
    square = site.cell_size**2
    ground, mat = site.plantable * square, site.mat * site.plantable * square
    of_host = site.unit.ravel()[site.hosts.cell]
    ground_scale, mat_scale = Scale([ground.sum()], "area", system), Scale([mat.sum()], "area", system)
    rows = []
    for number, name in [*enumerate(site.unit_names, start=1), (0, "in no unit")]:
        here, state = site.unit == number, site.hosts.state[of_host == number]
        if number == 0 and not (len(state) or ground[here].sum()):
            continue
        counts = [f"{len(state):,}", f"{int(np.sum(state >= 1)):,}", f"{int(np.sum(state == 2)):,}"]
        rows.append(
            [name, ground_scale.text(float(ground[here].sum())), mat_scale.text(float(mat[here].sum())), *counts]
        )
    return table(
        ["unit", f"ground ({ground_scale.unit})", f"mat ({mat_scale.unit})", "hosts", "climbed", "fruiting"], rows
    )
