"""Parameters drawn by replicate: from the law that the profile names, said in the dataset, linked as they must be."""

import math
from functools import cache
from typing import Any

import numpy as np
import pytest
import xarray as xr
from scipy import stats

from spreadsim import Crew, InputError, Site, Strategy, Task, load_treatment, load_vine, simulate
from spreadsim.inputs import Parameter, treatment_names
from spreadsim.model.parameters import SOLVED, pack_parameters

VINES = ("wintercreeper", "english-ivy")
ALPHA = 1e-6  # false alarm of one test, were the seed not fixed
NUMBER = 1500
LINKS = (
    "seed.fruits_per_host",
    "seed.seeds_per_fruit",
    "seed.share_taken_by_birds",
    "seed.germination",
    "seed.first_winter_survival",
    "seed.seedling_to_rooted_patch",
)
# not used by any process yet, so not drawn
UNUSED = {
    "birds.gut_retention_minutes",
    "impact.tree_seedlings_under_full_mat",
    "misidentified",
    "search_time_constant_seedling",
}


@cache
def worlds(vine: str, fixed_parameters: bool = False, rare_founding: bool = False) -> xr.Dataset:
    """Thousands of replicates of a site of four cells, with a task for every treatment."""
    tasks = [Task(name) for name in treatment_names()]
    profile = load_vine(vine)
    if rare_founding:  # low enough never to bind the links
        profile = profile.replace({"seed.patches_founded": {"value": 1e-9, "low": 1e-10, "high": 1e-8}})
    return simulate(
        Site.from_arrays(2.0, mat=np.full((2, 2), 0.9)),
        profile,
        Strategy("all", tasks=tasks),
        crews=[Crew("staff", 10)],
        years=1,
        replicates=NUMBER,
        seed=8,
        fixed_parameters=fixed_parameters,
        maps="none",
    )


def numbers(vine: str) -> dict[str, Parameter]:
    """Every parameter of the vine and the treatments that is a single number, by its name in the dataset."""
    found = {name: p for name, p in load_vine(vine).parameters.items() if isinstance(p.value, float)}
    for name in treatment_names():
        found |= {f"{name}.{role}": p for role, p in load_treatment(name).parameters.items()}
    return {name: p for name, p in found.items() if name not in UNUSED and name.split(".")[1] not in UNUSED}


def law(parameter: Parameter) -> Any:
    """Cumulative distribution: triangular from low over the default to high, of logarithms on the log scale."""
    low, mode, high = parameter.low, parameter.number, parameter.high
    change: Any = np.asarray
    if parameter.scale == "log":
        low = low if low > 0 else mode * mode / high  # a low of nil: as far below as the high is above
        low, mode, high = math.log(low), math.log(mode), math.log(high)
        change = np.log
    return lambda x: stats.triang.cdf(change(x), (mode - low) / (high - low), low, high - low)


@pytest.mark.parametrize("vine", VINES)
def test_every_parameter_that_is_used_is_in_the_dataset_with_where_it_comes_from(vine: str):
    data = worlds(vine)
    for name, parameter in numbers(vine).items():
        assert name in data, name
        values = data[name]
        assert values.dims == ("replicate",)
        assert values.attrs["units"] == parameter.unit
        assert values.attrs["source"] == parameter.source
        assert values.attrs["confidence"] == parameter.confidence
        assert values.attrs["long_name"]
        assert np.isfinite(values).all()
        assert (np.ptp(values.values) > 0) == parameter.drawn, name
    for name in ("seed.microsite_share", "birds.kernel_u"):
        assert data[name].attrs["confidence"] == "C"
        assert data[name].attrs["units"]
        assert data[name].attrs["source"]


@pytest.mark.parametrize("vine", VINES)
def test_what_is_not_linked_is_drawn_from_its_law(vine: str):
    data = worlds(vine)
    drawn = {name: p for name, p in numbers(vine).items() if p.drawn and name not in LINKS}
    assert {p.scale for p in drawn.values()} == {"linear", "log"}
    assert len(drawn) > 50
    for name, parameter in drawn.items():
        values = data[name].values
        low = parameter.low or (parameter.number**2 / parameter.high if parameter.scale == "log" else 0.0)
        assert values.min() >= low * (1 - 1e-12), name
        assert values.max() <= parameter.high * (1 + 1e-12), name
        assert stats.kstest(values, law(parameter)).pvalue > ALPHA, name


@pytest.mark.parametrize("vine", VINES)
def test_the_links_are_drawn_from_their_laws_where_the_founding_rate_does_not_bind_them(vine: str):
    data = worlds(vine, rare_founding=True)
    for name in LINKS:
        assert stats.kstest(data[name].values, law(load_vine(vine)[name])).pvalue > ALPHA, name


@pytest.mark.parametrize("vine", VINES)
def test_a_law_on_the_wrong_scale_would_be_noticed(vine: str):
    """Each log-scaled parameter against the linear law of the same range."""
    for name, parameter in numbers(vine).items():
        if parameter.drawn and parameter.scale == "log" and name not in LINKS:
            low, high = parameter.low, parameter.high
            linear = stats.triang((parameter.number - low) / (high - low), low, high - low)
            assert stats.kstest(worlds(vine)[name].values, linear.cdf).pvalue < ALPHA, name


@pytest.mark.parametrize("vine", VINES)
def test_draws_of_different_parameters_are_not_correlated(vine: str):
    data = worlds(vine)
    names = [name for name, p in numbers(vine).items() if p.drawn and name not in LINKS]
    ranks = stats.rankdata(np.array([data[name].values for name in names]), axis=1)
    correlation = np.corrcoef(ranks)[np.triu_indices(len(names), 1)]
    # Bonferroni over all pairs
    limit = stats.norm.isf(ALPHA / (2 * correlation.size)) / math.sqrt(NUMBER)
    assert np.abs(correlation).max() < limit


@pytest.mark.parametrize("vine", VINES)
@pytest.mark.parametrize("fixed", [False, True])
def test_the_links_from_seed_to_patch_make_up_the_founding_rate(vine: str, fixed: bool):
    data = worlds(vine, fixed)
    share = data["seed.microsite_share"].values
    assert share.min() > 0
    assert share.max() <= 1
    product = share.copy()
    for name in LINKS:
        product *= data[name].values
    np.testing.assert_allclose(product, data["seed.patches_founded"].values, rtol=4e-15)


@pytest.mark.parametrize("vine", VINES)
def test_the_width_of_the_kernel_is_solved_from_its_median(vine: str):
    data = worlds(vine)
    median, p, u = (data[f"birds.{name}"].values for name in ("median_distance", "kernel_p", "kernel_u"))
    np.testing.assert_allclose(1 - (1 + median**2 / u) ** -p, 0.5, rtol=1e-12)


@pytest.mark.parametrize("vine", VINES)
def test_fixed_parameters_are_the_defaults(vine: str):
    data = worlds(vine, True)
    for name, parameter in numbers(vine).items():
        assert (data[name].values == parameter.value).all(), name


def test_a_founding_rate_that_the_links_cannot_make_up_is_refused():
    vine = load_vine("wintercreeper").replace(
        {"seed.patches_founded": {"value": 1e6, "low": 1e6, "high": 1e6}}, check_ranges=False
    )
    for fixed in (True, False):
        with pytest.raises(InputError, match=r"patches_founded: found 1e\+06"):
            simulate(
                Site.from_arrays(2.0, mat=np.ones((2, 2))), vine, years=1, replicates=1, seed=1, fixed_parameters=fixed
            )


def test_a_parameter_is_drawn_by_its_name_whatever_else_is_drawn():
    alone = simulate(
        Site.from_arrays(2.0, mat=np.ones((2, 2))), load_vine("english-ivy"), years=1, replicates=40, seed=8
    )
    for name in ("mat.front_speed", "seed.fruits_per_host", "scout.cryptic_share"):
        assert (alone[name].values == worlds("english-ivy")[name].values[:40]).all()
    assert "cut.stem_kill" not in alone


@pytest.mark.parametrize("fixed", [False, True])
def test_given_values_take_the_place_of_draws_and_move_nothing_else(fixed):
    """A world that is given what it would have drawn is the same; one given value leaves all other draws alone."""
    vine, treatments = load_vine("wintercreeper"), [load_treatment(name) for name in treatment_names()]
    numbers = [3, 11, 12]
    vines, rows, columns = pack_parameters(vine, treatments, 5, numbers, fixed)
    all_given = {name: column for name, column in columns.items() if name not in SOLVED}
    same_vines, same_rows, same_columns = pack_parameters(vine, treatments, 5, numbers, fixed, all_given)
    assert (vines == same_vines).all() and (rows == same_rows).all()
    for name, column in columns.items():
        np.testing.assert_array_equal(column, same_columns[name], err_msg=name)
    given = {"mat.front_speed": np.array([0.1, 0.2, 0.3]), "pull.mat_kill": np.array([0.5, 0.6, 0.7])}
    _, _, moved = pack_parameters(vine, treatments, 5, numbers, fixed, given)
    for name, column in columns.items():
        np.testing.assert_array_equal(moved[name], given.get(name, column), err_msg=name)
