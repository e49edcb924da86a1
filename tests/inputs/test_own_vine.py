"""A vine of a user's own, made of a copy of a profile: no code is needed for it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import spreadsim.inputs
from spreadsim.inputs import Experiment, InputError, load_vine, read_experiment, vine_names

PROFILES = Path(spreadsim.inputs.__file__).parent / "vines"


def copy_of(profile: str, folder: Path, *changes: tuple[str, str]) -> Path:
    """Write a copy of a profile, each text replaced the first time that it is there."""
    text = (PROFILES / f"{profile}.toml").read_text(encoding="utf-8")
    for old, new in (*changes, (f'name = "{profile}"', 'name = "invented-vine"')):
        assert old in text, old
        text = text.replace(old, new, 1)
    path = folder / "invented-vine.toml"
    path.write_text(text, encoding="utf-8")
    return path


def value_of(profile: str, parameter: str) -> str:
    """Give the lines of a parameter's table in a profile."""
    text = (PROFILES / f"{profile}.toml").read_text(encoding="utf-8")
    head = f"[{parameter}]"
    assert text.count(head) == 1
    return head + text.split(head)[1].split("\n\n")[0]


@pytest.mark.parametrize("profile", ["wintercreeper", "english-ivy"])
def test_a_copy_with_other_values_works_in_an_experiment(
    folder: Path, edit: Callable[[str, str, str], Path], profile: str
) -> None:
    old = value_of(profile, "mat.front_speed")
    shipped = load_vine(profile)["mat.front_speed"]
    new = old.replace(f"value = {shipped.value}", "value = 0.9").replace('confidence = "A"', 'confidence = "R"')
    assert new.count("0.9") == 1 and 'confidence = "R"' in new
    copy_of(profile, folder, (old, new))
    path = edit("experiment.toml", 'vine = "wintercreeper"', 'vine = "invented-vine.toml"')
    edit("experiment.toml", '"mat.front_speed" = 0.4\n', '"mat.max_cover" = 0.9\n')
    experiment = read_experiment(path)
    assert experiment.vine.name == "invented-vine" and "invented-vine" not in vine_names()
    assert experiment.vine["mat.front_speed"].value == 0.9 and experiment.vine["mat.front_speed"].confidence == "R"
    assert experiment.vine["mat.max_cover"].value == 0.9
    others = set(experiment.vine.parameters) - {"mat.front_speed", "mat.max_cover"}
    assert all(experiment.vine[name] == load_vine(profile)[name] for name in others)
    assert Experiment.from_dict(experiment.to_dict(), experiment.site) == experiment


def test_what_is_wrong_with_a_copy_is_named(folder: Path, edit: Callable[[str, str, str], Path]) -> None:
    old = value_of("wintercreeper", "mat.front_speed")
    copy_of("wintercreeper", folder, (old, old.replace("value = 0.5", "value = 5")))
    path = edit("experiment.toml", 'vine = "wintercreeper"', 'vine = "invented-vine.toml"')
    with pytest.raises(InputError) as caught:
        read_experiment(path)
    assert any(
        "invented-vine.toml" in one and "found 5" in one and "0.15 to 1.5" in one for one in caught.value.problems
    )
