"""A vine of a user's own, from a copied profile, runs without code; the numbers of treatments have a place."""

from pathlib import Path

import numpy as np
import pytest

import spreadsim.inputs
from spreadsim.inputs import load_treatment, load_vine, treatment_names
from spreadsim.model.compiled import TREATMENT_NUMBERS
from spreadsim.model.parameters import STAND_INS

from .helpers import FLOWS, STATES, assert_same
from .small import go, meadow

PROFILES = Path(spreadsim.inputs.__file__).parent / "vines"
# roles that a user's treatment may have and no shipped one has
USERS_ONLY = {"material_per_host"}
# told to people, used by no kernel
TOLD = {"search_time_constant_seedling", "volume_per_area"}


def copied(folder: Path, *, profile: str = "english-ivy", front_speed: str | None = None) -> Path:
    """A copy of a profile under another name, perhaps with another speed."""
    text = (PROFILES / f"{profile}.toml").read_text(encoding="utf-8")
    text = text.replace(f'name = "{profile}"', 'name = "invented-vine"', 1)
    if front_speed:
        head, table, rest = text.partition("[mat.front_speed]\n")
        old = rest.splitlines()[0]
        assert table and old.startswith("value = ")
        text = head + table + rest.replace(old, f"value = {front_speed}", 1)
    path = folder / "invented-vine.toml"
    path.write_text(text, encoding="utf-8")
    return path


def site() -> object:
    mat = np.zeros((30, 30))
    mat[:, :5] = 1.0
    hosts = {"x": [4.0, 6.0, 30.0], "y": [10.0, 30.0, 30.0], "state": ["fruiting", "climbing", "bare"]}
    return meadow(mat=mat, hosts=hosts)


def test_a_copy_runs_as_the_profile_does_and_with_its_own_values(tmp_path: Path):
    options = {"years": 6, "replicates": 20, "fixed": False}
    shipped = go(site(), vine=load_vine("english-ivy"), **options)
    same = go(site(), vine=load_vine(copied(tmp_path)), **options)
    assert_same(shipped, same, (*STATES, *FLOWS))
    faster = go(site(), vine=load_vine(copied(tmp_path, front_speed="1.9")), **options)
    assert (faster["infested_area"].values[:, -1] > shipped["infested_area"].values[:, -1]).all()
    assert same.attrs != {} and load_vine(tmp_path / "invented-vine.toml").name == "invented-vine"


def test_every_number_of_a_treatment_is_read_from_some_profile_or_explained():
    used = {role for name in treatment_names() for role in load_treatment(name).parameters}
    assert used - set(TREATMENT_NUMBERS) == TOLD
    assert set(TREATMENT_NUMBERS) - used - set(STAND_INS) == USERS_ONLY
    assert "seedling_kill" in STAND_INS


@pytest.mark.parametrize("name", sorted(treatment_names()))
def test_every_number_of_a_treatment_has_a_unit_and_a_standing(name: str):
    for role, parameter in load_treatment(name).parameters.items():
        assert parameter.unit and parameter.source and parameter.confidence in "RMPCA", role
