"""Every shipped number, read a second time from the table that it was taken from."""

from __future__ import annotations

import csv
import re
import tomllib
from pathlib import Path

import pytest

from spreadsim.inputs import Crew, Parameter, Weather, load_treatment, load_vine, treatment_names, vine_names

FOLDER = Path(__file__).parents[1] / "outside" / "data"
with (FOLDER / "parameters.csv").open(newline="", encoding="utf-8") as file:
    ROWS = list(csv.DictReader(file))

OURS = {
    "climb.wait_shape": (4.0, None, None),
    "climb.resprout_time": (1.0, 0.5, 1.5),
    "seed.crop_spread": (1.0, 0.5, 1.5),
}
ACRE = 4046.8564224  # m2, from 66 ft x 660 ft of 0.3048 m

# Treatment roles: (profile, role) of (treatment, row) of the table.
ROLES = {
    ("cut", "stem_kill"): ("cut", "kill_above_cut"),
    ("cut", "stem_kill_volunteers"): ("cut", "kill_above_cut_volunteers"),
    ("cut", "hours_per_host"): ("cut", "hours"),
    ("cut-and-treat", "stem_kill"): ("cut", "kill_above_cut"),
    ("cut-and-treat", "stem_kill_volunteers"): ("cut", "kill_above_cut_volunteers"),
    ("cut-and-treat", "base_kill"): ("cut-and-treat", "base_killed"),
    ("cut-and-treat", "hours_per_host"): ("cut-and-treat", "hours"),
    ("clear-ring", "base_kill"): ("pull", "kill"),
    ("clear-ring", "ring_radius"): ("clear-ring", "radius"),
    ("clear-ring", "hours_per_host"): ("clear-ring", "hours"),
    ("pull", "mat_kill"): ("pull", "kill"),
    ("pull", "hours_per_area"): ("pull", "hours"),
    ("pull", "hauling_share"): ("pull", "hauling_share"),
    ("pull", "reroots"): ("pull", "reroots_if_left_on_ground"),
    ("foliar-spray", "mat_kill"): ("foliar-spray", "kill_winter"),
    ("foliar-spray", "hours_per_area"): ("foliar-spray", "hours"),
    ("foliar-spray", "native_loss_dormant"): ("foliar-spray", "native_loss_winter"),
    ("foliar-spray", "native_loss_growing"): ("foliar-spray", "native_loss_growing_season"),
    ("foliar-spray", "fit_hours_per_day"): ("foliar-spray", "fit_hours_per_day"),
    ("spot-spray", "hours_per_area"): ("spot-spray", "hours"),
    ("spot-spray", "fit_hours_per_day"): ("foliar-spray", "fit_hours_per_day"),
    ("mow", "mat_kill"): ("mow", "kill_per_season"),
    ("mow", "hours_per_area"): ("mow", "hours"),
    ("graze", "mat_kill"): ("graze", "kill_one_year"),
    ("graze", "hours_per_visit"): ("graze", "fencing_hours"),
    ("graze", "material_per_area"): ("graze", "contract_price"),
    ("mulch", "mat_kill"): ("mulch", "kill"),
    ("mulch", "hours_per_area"): ("mulch", "hours"),
    ("tarp", "mat_kill"): ("tarp", "kill"),
    ("tarp", "hours_per_area"): ("tarp", "hours"),
    ("tarp", "material_per_area"): ("tarp", "materials"),
    ("plant", "plant_survival"): ("plant", "survival"),
    ("plant", "hours_per_area"): ("plant", "hours"),
    ("remove-source", "consent"): ("remove-source", "consent"),
    ("remove-source", "hours_per_visit"): ("remove-source", "hours"),
    **{
        (name, "kill_variation"): ("any", "kill_variation")
        for name in treatment_names()
        if name not in ("scout", "plant", "remove-source")
    },
    **{("scout", row["name"]): ("scout", row["name"]) for row in ROWS if row["process"] == "scout"},
}
# Roles of our own, assumed, without a row.
OWN_ROLES = {
    ("cut", "base_kill"): (0.2, 0.0, 0.5),  # 1 - base_resprouts 0.8 (0.5 to 1)
    ("cut", "crop_prevented_ripe"): (0.1, 0.0, 0.3),
    ("cut-and-treat", "crop_prevented_ripe"): (0.1, 0.0, 0.3),
    ("pull", "hours_floor"): (0.05, None, None),
    ("foliar-spray", "hours_floor"): (0.3, None, None),
    ("spot-spray", "mat_kill"): (0.8, 0.5, 0.95),
    ("spot-spray", "hours_floor"): (1.0, None, None),
    **{(name, "hours_floor"): (0.2, None, None) for name in ("cut", "cut-and-treat", "clear-ring")},
    **{(name, "hours_floor"): (1.0, None, None) for name in ("mow", "mulch", "tarp")},
    ("mulch", "cover_years"): (1.0, 0.5, 2.0),
    ("mulch", "volume_per_area"): (0.25, None, None),  # the note of its kill: 25 m3 per 100 m2
    ("tarp", "cover_years"): (1.0, 1.0, 1.5),
    ("tarp", "largest_patch"): (200.0, None, None),
    ("remove-source", "consent_delay"): (1.0, 0.5, 2.0),
    **{
        (name, f"native_loss_{when}"): loss
        for name, loss in {
            "tarp": (0.95, 0.8, 1.0),
            "mulch": (0.7, 0.4, 0.95),
            "graze": (0.4, 0.2, 0.7),
            "mow": (0.3, 0.1, 0.6),
        }.items()
        for when in ("dormant", "growing")
    },
}
OWN_UNITS = {"cover_years": "yr", "consent_delay": "yr", "largest_patch": "m2", "volume_per_area": "m3/m2"}
# Rows that are the usual value of something that a crew or the weather has.
USUAL = {
    ("foliar-spray", "min_air_temperature"): Weather().min_temperature,
    ("any", "volunteers_per_leader"): Crew("a", 1).people_per_leader,
}
# Rows that have no place of their own, and why.
NOT_SHIPPED = {
    ("cut", "base_resprouts"): "its complement is base_kill",
    (
        "cut",
        "crop_prevented",
    ): "a crop that is still to come falls with the stem; a ripe one is crop_prevented_ripe",
    ("foliar-spray", "contract_price"): "a contractor who sprays is a crew with hours, a price and a minimum charge",
    ("any", "volunteer_hour"): "the user's own price of a crew, which is not paid in cash",
    ("any", "contract_hour"): "the user's own price of a crew",
    ("any", "staff_hour"): "the user's own price of a crew",
    ("any", "setup_hours"): "given with a crew that works in sessions; no crew has sessions unless it says so",
    ("any", "volunteer_pace"): "given with a crew; a crew of which nothing is said is as fast as staff",
    ("any", "turnout"): "given with a crew; a crew of which nothing is said comes as planned",
}


def number(text: str) -> float | None:
    return float(text) if text else None


def rows_of(vine: str) -> dict[str, dict[str, str]]:
    return {
        f"{row['process']}.{row['name']}": row
        for row in ROWS
        if row["applies_to"] in (vine, "both") and not row["note"].startswith("CHECK VALUE")
    }


def treatment_row(treatment: str, name: str) -> dict[str, str]:
    (row,) = [r for r in ROWS if r["applies_to"] == "treatment" and (r["process"], r["name"]) == (treatment, name)]
    return row


def assert_texts(parameter: Parameter, row: dict[str, str]) -> None:
    assert (parameter.confidence, parameter.source) == (row["confidence"], row["source"])
    assert parameter.scale == (row["scale"] or "linear")


def test_the_table_is_whole() -> None:
    assert len(ROWS) == 107 and sum(row["note"].startswith("CHECK VALUE") for row in ROWS) == 2


@pytest.mark.parametrize("vine", ["wintercreeper", "english-ivy"])
def test_a_vine_has_the_rows_of_the_table_and_ours(vine: str) -> None:
    assert set(load_vine(vine).parameters) == set(rows_of(vine)) | set(OURS)


@pytest.mark.parametrize(
    ("vine", "name"), [(vine, name) for vine in ("wintercreeper", "english-ivy") for name in rows_of(vine)]
)
def test_a_vine_has_the_values_of_the_table(vine: str, name: str) -> None:
    parameter, row = load_vine(vine)[name], rows_of(vine)[name]
    assert_texts(parameter, row)
    assert (parameter.unit, parameter.note) == (row["unit"], row["note"])
    assert (parameter.low, parameter.high) == (number(row["low"]), number(row["high"]))
    if row["default"] == "":
        assert parameter.solved and parameter.value is None and not parameter.drawn
        return
    assert not parameter.solved and parameter.drawn == (row["low"] != "")
    if name == "seed.fruit_season":
        assert "-".join(str(season) for season in parameter.value or ()) == row["default"]
    elif name == "mat.growth_share_by_season":
        assert parameter.value == tuple(float(share) for share in row["default"].split())
    elif name == "birds.kernel":
        assert parameter.value == row["default"]
    else:
        assert parameter.value == float(row["default"])


@pytest.mark.parametrize("vine", ["wintercreeper", "english-ivy"])
def test_our_own_rows_are_assumed_and_say_so(vine: str) -> None:
    for name, (value, low, high) in OURS.items():
        parameter = load_vine(vine)[name]
        assert (parameter.value, parameter.low, parameter.high) == (value, low, high)
        assert (parameter.confidence, parameter.source) == ("A", "common practice, no source")
        assert parameter.scale == "linear" and not parameter.solved
    assert (load_vine(vine)["climb.resprout_time"].unit, load_vine(vine)["climb.wait_shape"].unit) == (
        "yr",
        "1",
    )
    assert load_vine(vine)["seed.crop_spread"].unit == "1"


def test_solved_rows_are_the_two_that_follow_from_others() -> None:
    for vine in vine_names():
        solved = {name for name, parameter in load_vine(vine).parameters.items() if parameter.solved}
        assert solved == {"seed.microsite_share", "birds.kernel_u"}


def test_treatments_have_the_roles_of_the_table_and_ours() -> None:
    shipped = {(name, role) for name in treatment_names() for role in load_treatment(name).parameters}
    assert shipped == set(ROLES) | set(OWN_ROLES)


@pytest.mark.parametrize("place", list(ROLES))
def test_a_treatment_has_the_values_of_the_table(place: tuple[str, str]) -> None:
    parameter, row = load_treatment(place[0])[place[1]], treatment_row(*ROLES[place])
    assert_texts(parameter, row)
    units = {"h/100 m2": ("h/m2", 100.0), "h/acre": ("h/m2", ACRE), "h/acre walked": ("h/m2", ACRE)}
    units |= {"USD/m2": ("currency/m2", 1.0), "USD/acre": ("currency/m2", ACRE)}
    units |= {"h per visit": ("h", 1.0), "h per asking": ("h", 1.0), "1 per asking and yr": ("1", 1.0)}
    unit, per = units.get(row["unit"], (row["unit"], 1.0))
    assert parameter.unit == unit
    for got, text in (
        (parameter.value, row["default"]),
        (parameter.low, row["low"]),
        (parameter.high, row["high"]),
    ):
        assert got == pytest.approx(float(text) / per, rel=1e-14)
    if per == 1.0:
        assert parameter.value == float(row["default"])
    elif row["unit"] != "h/m2":
        assert parameter.note.endswith(f"given as {row['default']} ({row['low']} to {row['high']}) {row['unit']}")


@pytest.mark.parametrize("place", list(ROLES))
def test_a_treatment_file_keeps_the_unit_of_the_table(place: tuple[str, str]) -> None:
    import spreadsim.inputs.treatment as module

    path = Path(module.__file__).parent / "treatments" / f"{place[0]}.toml"
    with path.open("rb") as file:
        table = tomllib.load(file)["parameters"][place[1]]
    row = treatment_row(*ROLES[place])
    assert (table["unit"], table["value"]) == (row["unit"], float(row["default"]))


@pytest.mark.parametrize("place", list(OWN_ROLES))
def test_own_roles_are_assumed_and_say_so(place: tuple[str, str]) -> None:
    parameter = load_treatment(place[0])[place[1]]
    assert (parameter.value, parameter.low, parameter.high) == OWN_ROLES[place]
    assert (parameter.confidence, parameter.unit) == ("A", OWN_UNITS.get(place[1], "1"))
    assert parameter.source == "common practice, no source"


def test_every_treatment_row_is_shipped_or_explained() -> None:
    places = [set(ROLES.values()), set(USUAL), set(NOT_SHIPPED)]
    rows = {(row["process"], row["name"]) for row in ROWS if row["applies_to"] == "treatment"}
    assert set.union(*places) == rows
    assert sum(map(len, places)) == len(rows), "a row has one place only"


@pytest.mark.parametrize("place", list(USUAL))
def test_usual_values_of_crews_and_weather_are_those_of_the_table(place: tuple[str, str]) -> None:
    assert USUAL[place] == float(treatment_row(*place)["default"])


def test_treatments_are_where_and_when_they_may_be_used() -> None:
    every = ("winter", "spring", "summer", "autumn")
    shipped = {name: load_treatment(name) for name in treatment_names()}
    assert set(shipped) == {
        "cut",
        "cut-and-treat",
        "clear-ring",
        "pull",
        "foliar-spray",
        "spot-spray",
        "scout",
        "mow",
        "graze",
        "mulch",
        "tarp",
        "plant",
        "remove-source",
    }
    assert {name for name, one in shipped.items() if one.herbicide} == {
        "cut-and-treat",
        "foliar-spray",
        "spot-spray",
    }
    assert {name for name, one in shipped.items() if one.not_on_sensitive} == {
        "cut-and-treat",
        "foliar-spray",
        "spot-spray",
        "mow",
        "graze",
        "mulch",
        "tarp",
    }
    assert {name for name, one in shipped.items() if one.needs_fit_weather} == {"foliar-spray", "spot-spray"}
    assert {name for name, one in shipped.items() if one.disturbs} == {"pull", "clear-ring"}
    assert {name: one.seasons for name, one in shipped.items() if one.seasons != every} == {
        "foliar-spray": ("winter", "autumn"),
        "mow": ("spring", "summer", "autumn"),
        "graze": ("spring", "summer", "autumn"),
        "plant": ("spring", "autumn"),
    }
    for name, one in shipped.items():
        assert (
            one.acts_on
            == {
                "cut": {"stems"},
                "cut-and-treat": {"stems"},
                "clear-ring": {"stems"},
                "pull": {"mat", "seedlings"},
                "foliar-spray": {"mat", "seedlings"},
                "spot-spray": {"mat", "seedlings"},
                "scout": {"search"},
                "mow": {"mat", "seedlings"},
                "graze": {"mat", "seedlings"},
                "mulch": {"mat", "seedlings"},
                "tarp": {"mat", "seedlings"},
                "plant": {"natives"},
                "remove-source": {"sources"},
            }[name]
        )


def test_cautions_go_with_treatments() -> None:
    for name in treatment_names():
        treatment = load_treatment(name)
        said = " ".join(treatment.cautions).lower()
        assert "be sure of the plant" in said
        assert ("label" in said) == (treatment.herbicide or name == "remove-source")
        assert not re.search(r"\d\s*(%|oz|ml|l/|qt|lb|gal|percent)", said), "no rates"
        assert "ambulance" in said
        if treatment.herbicide:
            assert "licensed" in said and "water" in said and "rare plants" in said
        if name in ("cut", "cut-and-treat"):
            assert "never pull" in said and "dead ash" in said and "pairs" in said and "poison ivy" in said
        if name in ("mow", "graze", "mulch", "tarp"):
            assert "natives" in said and "poison ivy" in said
        if name == "remove-source":
            assert "consent in writing" in said
