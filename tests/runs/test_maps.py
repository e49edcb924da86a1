"""Maps: each replicate's own, and their means over replicates."""

import numpy as np
import pytest
import xarray as xr

from spreadsim import simulate

from .small import YEARS, experiment, strategies

REPLICATES = 30


def simulated(maps: str, strategy: int = 0) -> xr.Dataset:
    """The small site under one of its strategies."""
    case = experiment()
    return simulate(
        case.site,
        case.vine,
        strategies()[strategy],
        crews=case.crews,
        years=YEARS,
        replicates=REPLICATES,
        seed=3,
        maps=maps,
        workers=2,
    )


@pytest.mark.parametrize("strategy", [0, 1])
def test_maps_are_means_over_the_replicates_own(strategy: int):
    data = simulated("replicate", strategy)
    cover = data["mat_cover"].values
    assert cover.shape == (REPLICATES, YEARS + 1, *experiment().site.mat.shape)
    occupancy = (cover > 0).sum(axis=0) / REPLICATES
    assert (data["occupancy"].values == occupancy.astype("f4")).all()
    assert np.unique(occupancy).size > 5
    # each replicate's cover is counted in whole steps of 1/10,000
    np.testing.assert_allclose(data["mean_cover"].values, cover.mean(axis=0, dtype="f8"), rtol=0, atol=0.5e-4 + 1e-7)
    steps = np.rint(cover.astype("f8") * 1e4).sum(axis=0) / (1e4 * REPLICATES)
    assert (
        np.mean(data["mean_cover"].values == steps.astype("f4")) > 0.999
    )  # but for halves, rounded in single precision


def test_maps_of_the_start_are_what_was_mapped():
    data = simulated("replicate")
    mapped = np.where(experiment().site.plantable > 0, experiment().site.mat, 0.0)
    most = data["mat.max_cover"].values[:, None, None]
    np.testing.assert_allclose(data["mat_cover"].values[:, 0], np.minimum(mapped, most), rtol=1e-6)
    assert ((data["occupancy"].values[0] == 1) == (mapped > 0)).all()


def test_maps_lie_on_the_ground_with_north_up():
    data = simulated("mean")
    assert (np.diff(data["y"].values) == -2.0).all()
    assert (np.diff(data["x"].values) == 2.0).all()
    assert data["y"].values[-1] == 1.0
    assert data["x"].values[0] == 1.0
    # the first mat is in the north west
    assert data["occupancy"].sel(year=0, x=20.0, y=52.0, method="nearest") == 1.0


def test_only_the_maps_asked_for_are_there():
    none, mean, own = (simulated(maps) for maps in ("none", "mean", "replicate"))
    assert not {"occupancy", "mean_cover", "mat_cover", "x", "y"} & set(none.variables)
    assert "mat_cover" not in mean
    for name in ("occupancy", "mean_cover"):
        assert (mean[name].values == own[name].values).all()
    for data in (mean, own):
        for name, values in none.data_vars.items():
            assert np.array_equal(values.values, data[name].values, equal_nan=values.dtype.kind == "f"), name
