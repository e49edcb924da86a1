"""Treatments that people write themselves."""

from __future__ import annotations

import pickle
from collections.abc import Callable
from pathlib import Path

import pytest

from spreadsim.inputs import InputError, Treatment, load_treatment, treatment_names

OWN = """
name = "machine"
title = "A machine"
acts_on = ["mat"]
seasons = ["summer", "spring"]
disturbs = true
cautions = ["Loud."]

[parameters.mat_kill]
value = 0.5
low = 0.4
high = 0.6
unit = "1"
confidence = "A"
source = "a test"

[parameters.hours_per_area]
value = 4
low = 2
high = 8
unit = "h/acre"
scale = "log"
confidence = "A"
source = "a test"

[parameters.material_per_area]
value = 100
unit = "currency/ha"
confidence = "A"
source = "a test"
"""


@pytest.fixture
def write(tmp_path: Path) -> Callable[[str, str], Path]:
    """Write the treatment above with a text replaced."""

    def change(old: str = "", new: str = "") -> Path:
        assert old in OWN
        path = tmp_path / "machine.toml"
        path.write_text(OWN.replace(old, new, 1) if old else OWN, encoding="utf-8")
        return path

    return change


def test_an_own_treatment_is_read_in_si(write: Callable[..., Path]) -> None:
    treatment = load_treatment(write())
    assert treatment.seasons == ("spring", "summer")  # in the order of the year
    assert treatment.acts_on == {"mat"} and treatment.disturbs and not treatment.herbicide
    hours = treatment["hours_per_area"]
    assert hours.unit == "h/m2"
    assert hours.value == pytest.approx(4 / 4046.8564224, rel=1e-14)
    assert (hours.low, hours.high) == (pytest.approx(2 / 4046.8564224), pytest.approx(8 / 4046.8564224))
    assert hours.note == "given as 4 (2 to 8) h/acre"
    assert treatment["material_per_area"].value == pytest.approx(0.01)
    assert treatment["material_per_area"].note == "given as 100 currency/ha"


def test_absent_roles_have_stand_ins(write: Callable[..., Path]) -> None:
    treatment = load_treatment(write())
    assert treatment.number("seedling_kill") == treatment.number("mat_kill") == 0.5
    assert treatment.number("stem_kill_volunteers") == treatment.number("stem_kill") == 0.0
    assert load_treatment("cut").number("stem_kill_volunteers") == 0.93
    with pytest.raises(InputError, match=r"parameters\.stem_kill: found nothing"):
        treatment["stem_kill"]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('name = "machine"\n', "", "name: found nothing"),
        ('acts_on = ["mat"]\n', "", "acts_on: found nothing"),
        ('["mat"]', '["leaves"]', 'acts_on[0]: found "leaves"'),
        ('["mat"]', "[]", "acts_on: found []"),
        ('["mat"]', '"mat"', 'acts_on: found "mat", allowed a list'),
        ('["summer", "spring"]', '["fall"]', 'seasons[0]: found "fall"'),
        ("disturbs = true", 'disturbs = "yes"', 'disturbs: found "yes", allowed true or false'),
        ("disturbs = true", "disturb = true", "disturb: found True"),
        ("[parameters.mat_kill]", "[parameters.kill]", "parameters.kill: found"),
        ("value = 0.5", "value = 1.5", "parameters.mat_kill.value: found 1.5"),
        ("high = 0.6", "high = 1.6", "mat_kill.high: found 1.6, allowed 0 to 1"),
        ('unit = "h/acre"', 'unit = "h/host"', "parameters.hours_per_area.unit: found"),
        ('unit = "1"\n', "", "parameters.mat_kill.unit: found nothing"),
        ('source = "a test"\n', "", "parameters.mat_kill.source: found nothing"),
        ("value = 100", 'value = "much"', "parameters.material_per_area.value: found"),
        ('cautions = ["Loud."]', "cautions = [3]", "cautions[0]: found 3"),
        (
            "[parameters.mat_kill]",
            "[parameters]\nmat_kill = 3\n[x]",
            "parameters.mat_kill: found 3, allowed a table",
        ),
    ],
)
def test_faults_are_named(write: Callable[..., Path], old: str, new: str, said: str) -> None:
    path = write(old, new)
    with pytest.raises(InputError) as caught:
        load_treatment(path)
    assert any(problem.startswith(str(path)) and said in problem for problem in caught.value.problems), caught.value


def test_replace_and_round_trips() -> None:
    for name in treatment_names():
        treatment = load_treatment(name)
        assert Treatment.from_dict(treatment.to_dict()) == treatment
        assert pickle.loads(pickle.dumps(treatment)) == treatment
        assert hash(Treatment.from_dict(treatment.to_dict())) == hash(treatment)
    cut = load_treatment("cut").replace({"stem_kill": 0.96})
    assert cut["stem_kill"].value == 0.96 and cut.cautions == load_treatment("cut").cautions
    with pytest.raises(InputError, match=r'Treatment "cut": stem_kill: found 0.5, allowed 0.95 to 1'):
        cut.replace({"stem_kill": 0.5})
    none = cut.replace({"stem_kill": 0.0, "base_kill": 0.0}, check_ranges=False)
    assert (none["stem_kill"].value, none["stem_kill"].low) == (0.0, 0.0)
    with pytest.raises(InputError, match="allowed 0 to 1"):
        cut.replace({"stem_kill": 1.5}, check_ranges=False)


def test_the_names_that_are_shipped_are_listed() -> None:
    with pytest.raises(InputError, match='"tarp", or the path of a TOML file'):
        load_treatment("burn")
