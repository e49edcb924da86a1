"""The register of variables and the builder."""

import numpy as np
import pytest

from spreadsim import schema

COORDS = {"strategy": ["no action", "cut"], "replicate": [3, 4, 5], "year": range(3)}
STATE = np.arange(18.0).reshape(2, 3, 3)


def test_every_registered_variable_says_what_it_is():
    for name, variable in schema.VARIABLES.items():
        assert variable.units and variable.long_name, name
        assert set(variable.dims) <= set(schema.COORDINATES), name


def test_dimensions_stand_in_the_order_of_the_interface():
    # retyped from the interface page, not from the register
    state = {"mat_area", "infested_area", "climbed_hosts", "fruiting_hosts", "fallen_hosts", "seeds_produced"}
    state |= {"seeds_exported", "new_patches", "native_cover"}
    for name in state:
        assert schema.dims_of(name) == ("strategy", "replicate", "year")
    for name in ("hours", "cost"):
        assert schema.dims_of(name) == ("strategy", "replicate", "year", "season", "task")
    for name in ("occupancy", "mean_cover"):
        assert schema.dims_of(name) == ("strategy", "year", "y", "x")
    assert schema.dims_of("mat_cover", with_strategy=False) == ("replicate", "year", "y", "x")
    assert schema.VARIABLES["mat_area"].units == schema.VARIABLES["infested_area"].units == "m2"


def test_values_are_found_by_name_of_strategy():
    dataset = schema.build_dataset({"mat_area": STATE}, COORDS, {"title": "t"})
    assert dataset["mat_area"].sel(strategy="cut", replicate=4, year=2) == STATE[1, 1, 2]
    assert dataset["mat_area"].attrs["units"] == "m2"
    assert dataset.attrs == {"Conventions": "CF-1.11, ACDD-1.3", "title": "t"}
    assert dataset["replicate"].attrs["standard_name"] == "realization"
    assert dataset["year"].attrs["units"] == "1"


def test_one_strategy_alone_has_no_such_dimension():
    coords = {name: COORDS[name] for name in ("replicate", "year")}
    values = {"mat_area": STATE[0], "hours": np.ones((3, 3, 4, 2))}
    dataset = schema.build_dataset(values, {**coords, "task_name": ["cut", "pull"]})
    assert dataset["mat_area"].dims == ("replicate", "year")
    assert dataset["task_name"].dims == ("task",)
    assert list(dataset["season"].values) == ["winter", "spring", "summer", "autumn"]
    assert list(dataset["task"].values) == [0, 1]


def test_replicate_numbers_may_be_as_large_as_a_word():
    coords = {**COORDS, "replicate": [0, 1, 2**32 - 1]}
    dataset = schema.build_dataset({"mat_area": STATE}, coords)
    assert int(dataset["replicate"][-1]) == 2**32 - 1


def test_counts_are_whole_numbers():
    dataset = schema.build_dataset({"fruiting_hosts": STATE}, COORDS)
    assert dataset["fruiting_hosts"].dtype == np.int32
    with pytest.raises(ValueError, match=r"fruiting_hosts.*not whole"):
        schema.build_dataset({"fruiting_hosts": STATE + 0.5}, COORDS)
    with pytest.raises(ValueError, match=r"fruiting_hosts.*not whole"):
        schema.build_dataset({"fruiting_hosts": np.full_like(STATE, np.nan)}, COORDS)


def test_money_carries_currency_and_price_year():
    cost = np.zeros((2, 3, 3, 4, 1))
    dataset = schema.build_dataset({"cost": cost}, COORDS, {"currency": "CAD", "price_year": 2026})
    assert dataset["cost"].attrs["units"] == "1"
    assert dataset["cost"].attrs["currency"] == "CAD"
    assert dataset["cost"].attrs["price_year"] == 2026


def test_parameters_lie_beside_the_outcomes():
    given = {"units": "m/yr", "long_name": "speed", "confidence": "A"}
    dataset = schema.build_dataset({}, COORDS, parameters={"mat.front_speed": ([0.1, 0.2, 0.3], given)})
    assert dataset["mat.front_speed"].dims == ("replicate",)
    assert dataset["mat.front_speed"].attrs == given


def test_embedded_inputs_are_taken_as_they_are():
    inputs = {"input_text": (("input_byte",), np.array([104, 105], "u1"), {"units": "1", "long_name": "text"})}
    dataset = schema.build_dataset({"mat_area": STATE}, COORDS, inputs=inputs)
    assert bytes(dataset["input_text"].values) == b"hi"


@pytest.mark.parametrize(
    ("values", "coords", "more", "told"),
    [
        ({"mat_aera": STATE}, COORDS, {}, "'mat_aera' is not registered"),
        ({"mat_area": STATE[:1]}, COORDS, {}, r"'mat_area' has shape \(1, 3, 3\), not \(2, 3, 3\)"),
        ({"mat_area": STATE}, {**COORDS, "place": [1]}, {}, "coordinate 'place' is not registered"),
        ({"occupancy": np.zeros((2, 3, 4, 4))}, COORDS, {}, "'occupancy' needs the coordinate y, x"),
        ({"hours": np.zeros((2, 3, 3, 4, 1))}, {**COORDS, "task_name": ["a"]}, {}, "'task_name' has shape"),
        (
            {},
            COORDS,
            {"parameters": {"speed": ([1, 2, 3], {"units": "1", "long_name": "a"})}},
            "process.name",
        ),
        ({}, COORDS, {"parameters": {"a.b": ([1, 2, 3], {"long_name": "a"})}}, "'a.b' has no units"),
        (
            {},
            COORDS,
            {"parameters": {"a.b": ([1, 2], {"units": "1", "long_name": "a"})}},
            "one value for each",
        ),
        ({}, COORDS, {"inputs": {"mat_area": (("y",), [1], {})}}, "'mat_area' has the name of an outcome"),
    ],
)
def test_what_does_not_fit_is_refused(values, coords, more, told):
    with pytest.raises(ValueError, match=told):
        schema.build_dataset(values, coords, **more)


def test_all_faults_are_told_at_once():
    with pytest.raises(ValueError) as caught:
        schema.build_dataset({"nonsense": STATE, "mat_area": STATE[:1]}, COORDS)
    assert "nonsense" in str(caught.value) and "mat_area" in str(caught.value)


SWEPT = {"years": ([1, 2], {"units": "year", "long_name": "swept: years"})}


def test_design_points_stand_in_front_and_what_was_swept_beside_them():
    coords = {**COORDS, "design": [0, 1]}
    counts = np.stack([STATE, STATE])
    counts[0, :, :, 2] = np.nan  # the first point has one year less
    given = {"units": "1", "long_name": "a"}
    parameters = {"a.b": (np.zeros((2, 3)), given), "c.d": (np.zeros(3), given)}
    dataset = schema.build_dataset({"fruiting_hosts": counts}, coords, parameters=parameters, factors=SWEPT)
    assert dataset["fruiting_hosts"].dims == ("design", "strategy", "replicate", "year")
    assert dataset["fruiting_hosts"].dtype == np.float64
    assert (dataset["a.b"].dims, dataset["c.d"].dims) == (("design", "replicate"), ("replicate",))
    assert float(dataset["fruiting_hosts"].where(dataset["years"] == 2).max()) == STATE.max()
    whole = schema.build_dataset({"fruiting_hosts": counts[1:].astype(int)}, {**COORDS, "design": [0]})
    assert whole["fruiting_hosts"].dtype == np.int32


@pytest.mark.parametrize(
    ("factors", "told"),
    [
        ({"years": ([1], SWEPT["years"][1])}, "not one value for each design point"),
        ({"years": ([1, 2], {"units": "year"})}, "'years' has no long_name"),
        ({"mat_area": SWEPT["years"]}, "'mat_area' has the name of an outcome"),
    ],
)
def test_factors_that_do_not_fit_are_refused(factors, told):
    coords = {**COORDS, "design": [0, 1]}
    with pytest.raises(ValueError, match=told):
        schema.build_dataset({"mat_area": np.stack([STATE, STATE])}, coords, factors=factors)
