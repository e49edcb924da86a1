"""A sweep on the terminal: what differs, what is best, and never wider than the page."""

import numpy as np
import pytest
import xarray as xr

from spreadsim.views.sweep_table import sweep_tables
from spreadsim.views.tables import WIDTH

NAMES = ("no action", "cut climbing stems first", "clear ground mats first", "cut and clear together")


def swept(factors: int, strategies: int, points: int = 3) -> xr.Dataset:
    """Infested area of 10,000 m2 a strategy and point, less for later strategies; the last factor is text."""
    area = np.empty((points, strategies, 2, 3))
    area[:] = 1e4 * np.arange(1, points + 1)[:, None, None, None] * np.arange(strategies, 0, -1)[None, :, None, None]
    names = [f"{NAMES[k % 4]} {k}" for k in range(strategies)]
    coords = {"design": np.arange(points), "strategy": names, "replicate": [0, 1], "year": [0, 1, 2]}
    data = xr.Dataset({"infested_area": (("design", "strategy", "replicate", "year"), area)}, coords=coords)
    for k in range(factors - 1):
        data = data.assign_coords({f"mat.number_{k}": ("design", 1234.5678 * np.arange(1, points + 1), {"units": "m"})})
    texts = np.array(["outlying patches first, then by unit and largest first"] * points, object)
    return data.assign_coords({"strategies.a.order": ("design", texts, {"units": "1"})})


def test_few_columns_stand_beside_each_other():
    lines = sweep_tables(swept(2, 2)).splitlines()
    assert "a: mat.number_0 (m)" in lines and "b: strategies.a.order" in lines
    assert lines[-3].split() == ["0", "1,230", *["outlying", "patches", "first,", "the..."], "2.00", "1.00*"]
    assert sum("point " in line for line in lines) == 1


@pytest.mark.parametrize(("factors", "strategies"), [(6, 5), (2, 12), (30, 3), (40, 40)])
def test_many_columns_are_told_below_each_other(factors: int, strategies: int):
    """All of them, none twice, and each with the point."""
    text = sweep_tables(swept(factors, strategies))
    assert max(map(len, text.splitlines())) <= WIDTH
    heads = [line.split() for line in text.splitlines() if line.startswith("  point ")]
    assert len(heads) >= 2 and all(head[0] == "point" for head in heads)
    shown = [name for head in heads for name in head[1:]]
    assert len(shown) == len(set(shown)) == factors + strategies
