"""Parameters, and vine profiles that people write themselves."""

from __future__ import annotations

import math
import pickle
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import spreadsim.inputs.vine as vine_module
from spreadsim.inputs import InputError, Parameter, Vine, load_vine

SHIPPED = Path(vine_module.__file__).parent / "vines" / "wintercreeper.toml"
GIVEN = {"unit": "1", "source": "a test"}


@pytest.fixture
def profile(tmp_path: Path) -> Callable[[str, str], Path]:
    """Change a copy of a shipped profile: replace a text that is there, once, by another."""

    def change(old: str, new: str) -> Path:
        text = SHIPPED.read_text(encoding="utf-8")
        assert old in text
        path = tmp_path / "own.toml"
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
        return path

    return change


def problems(call: Callable[[], object]) -> str:
    with pytest.raises(InputError) as caught:
        call()
    return str(caught.value)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"value": math.nan}, "value: found nan"),
        ({"value": math.inf}, "value: found inf"),
        ({"value": True}, "value: found True"),
        ({"value": 10**400}, "value: found 1000"),
        ({"value": None}, "value: found None"),
        ({"value": 2.0, "low": 0.0, "high": 1.0}, "value: found 2.0, allowed 0 to 1"),
        ({"value": 0.5, "low": 1.0, "high": 0.0}, "low: found 1.0, allowed at most high"),
        ({"value": 0.5, "low": math.nan, "high": 1.0}, "low: found nan"),
        ({"value": 0.5, "low": 0.0}, "high: found None"),
        ({"value": 0.0, "low": 0.0, "high": 1.0, "scale": "log"}, "log scale"),
        ({"value": 1.0, "unit": ""}, "unit: found"),
        ({"value": 1.0, "unit": " "}, "unit: found"),
        ({"value": 1.0, "source": ""}, "source: found"),
        ({"value": 1.0, "confidence": "X"}, "confidence: found"),
        ({"value": 1.0, "scale": "cubic"}, "scale: found"),
        ({"value": []}, "value: found []"),
        ({"value": [1.0, "a"]}, "value: found [1.0"),
        ({"value": [1.0, math.nan]}, "value: found [1.0"),
        ({"value": "word", "low": 0.0, "high": 1.0}, "low: found 0.0"),
        ({"value": 1.0, "solved": True}, "value: found 1.0, allowed none"),
    ],
)
def test_parameters_refuse(values: dict[str, object], said: str) -> None:
    assert said in problems(lambda: Parameter("p", **{**GIVEN, **values}))  # type: ignore[arg-type]


def test_all_that_is_wrong_with_a_parameter_is_said() -> None:
    assert len(problems(lambda: Parameter("p", math.nan)).splitlines()) == 3  # value, unit, source


@settings(deadline=None)
@given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6), st.floats(-1e6, 1e6))
def test_values_in_range_are_taken_and_others_refused(low: float, high: float, value: float) -> None:
    low, high = min(low, high), max(low, high)
    parameter = Parameter("p", low, low, high, "1", source="a test")
    wide = parameter.with_value(value, check_ranges=False)
    assert wide.value == value and wide.low == min(low, value) and wide.high == max(high, value)
    if low <= value <= high:
        assert parameter.with_value(value).value == value
    else:
        assert f"found {value!r}" in problems(lambda: parameter.with_value(value))


def test_a_vine_knows_its_names() -> None:
    vine = load_vine("wintercreeper")
    assert "mat.front_speed" in vine and "mat.speed" not in vine
    assert set(vine) == set(vine.parameters)
    assert "a mapping of names to values" in problems(lambda: vine.replace(3))  # type: ignore[arg-type]


def test_values_keep_their_kind() -> None:
    vine = load_vine("english-ivy")
    for name, value in {
        "mat.front_speed": "fast",
        "birds.kernel": 3,
        "seed.fruit_season": 0.5,
        "mat.growth_share_by_season": ["a", "b", "c", "d"],
        "birds.kernel_u": 7000.0,
    }.items():
        assert f"{name}: found" in problems(lambda n=name, v=value: vine.replace({n: v}))  # type: ignore[misc]


def test_replace_gives_another_vine_and_leaves_the_first() -> None:
    vine = load_vine("wintercreeper")
    other = vine.replace({"mat.front_speed": 0.7, "seed.fruit_season": ["winter"]})
    assert (vine["mat.front_speed"].value, other["mat.front_speed"].value) == (0.5, 0.7)
    assert other["seed.fruit_season"].value == ("winter",)
    assert other != vine and vine == load_vine("wintercreeper")
    drawn = vine.replace({"mat.front_speed": {"value": 0.1, "low": 0.05, "high": 0.2}})["mat.front_speed"]
    assert (drawn.value, drawn.low, drawn.high) == (0.1, 0.05, 0.2)


def test_replace_says_everything_that_is_wrong() -> None:
    said = problems(
        lambda: load_vine("wintercreeper").replace(
            {"mat.front_speed": 9.0, "mat.speed": 1, "seed.germination": math.nan}
        )
    )
    assert len(said.splitlines()) == 3
    assert 'Vine "wintercreeper": mat.front_speed: found 9.0, allowed 0.15 to 1.5' in said


def test_ranges_are_widened_on_request_but_not_beyond_sense() -> None:
    vine = load_vine("wintercreeper")
    fast = vine.replace({"mat.front_speed": 9}, check_ranges=False)["mat.front_speed"]
    assert (fast.value, fast.low, fast.high) == (9.0, 0.15, 9.0)
    for name, value in {
        "seed.germination": 1.5,
        "mat.front_speed": -1.0,
        "mat.cover_doubling_time": 0.0,
    }.items():
        assert name in problems(lambda n=name, v=value: vine.replace({n: v}, check_ranges=False))  # type: ignore[misc]
    with pytest.raises(InputError):
        vine.replace({"seed.germination": math.nan}, check_ranges=False)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("mat.growth_share_by_season", (0.5, 0.5, 0.5, 0.5)),
        ("mat.growth_share_by_season", (0.5, 0.5)),
        ("mat.growth_share_by_season", (1.5, -0.5, 0.0, 0.0)),
        ("seed.fruit_season", ("monsoon",)),
        ("birds.kernel", "gaussian"),
    ],
)
def test_words_and_shares_are_checked(name: str, value: object) -> None:
    assert name in problems(lambda: load_vine("wintercreeper").replace({name: value}))


def test_a_vine_is_frozen() -> None:
    vine = load_vine("wintercreeper")
    with pytest.raises(AttributeError):
        vine.name = "x"  # type: ignore[misc]
    with pytest.raises(TypeError):
        vine.parameters["mat.front_speed"] = vine["mat.max_cover"]  # type: ignore[index]
    assert pickle.loads(pickle.dumps(vine)) == vine
    assert hash(vine) == hash(Vine.from_dict(vine.to_dict()))
    with pytest.raises(InputError, match=r"mat\.speed: found nothing"):
        vine["mat.speed"]


@pytest.mark.parametrize("name", ["ivy", "", "  ", 3, None, "no/such/file.toml", "\0.toml"])
def test_profiles_that_do_not_exist(name: object) -> None:
    assert problems(lambda: load_vine(name))  # type: ignore[arg-type]


def test_the_names_that_are_shipped_are_listed() -> None:
    assert '"english-ivy", "wintercreeper"' in problems(lambda: load_vine("ivy"))


def test_an_own_profile_is_read(profile: Callable[[str, str], Path]) -> None:
    vine = load_vine(profile('name = "wintercreeper"', 'name = "own"'))
    assert vine.name == "own" and vine.parameters == load_vine("wintercreeper").parameters


@pytest.mark.parametrize("key", ["unit", "source", "confidence"])
def test_a_value_without_unit_or_source_is_refused(profile: Callable[[str, str], Path], key: str) -> None:
    text = SHIPPED.read_text(encoding="utf-8")
    (line,) = [one for one in text.split("[mat.front_speed]")[1].split("\n\n")[0].splitlines() if one.startswith(key)]
    path = profile(line + "\n", "")
    assert problems(lambda: load_vine(path)) == f"{path}: mat.front_speed.{key}: found nothing, allowed a text, always"
    path = profile(line, f'{key} = ""')
    assert f"{path}: mat.front_speed.{key}: found" in problems(lambda: load_vine(path))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("low = 0.15\n", "", "mat.front_speed.low: found nothing"),
        ("value = 0.5\n", "", "mat.front_speed.value: found nothing"),
        ("value = 0.5\n", "value = nan\n", "mat.front_speed.value: found nan"),
        ("value = 0.5\n", "value = 5\n", "mat.front_speed.value: found 5.0, allowed 0.15 to 1.5"),
        ("value = 0.5\n", "value = 0.5\nmode = 3\n", "mat.front_speed.mode: found 3"),
        ('unit = "m/yr"', 'unit = "kg"', "mat.front_speed.unit: found"),
        ('unit = "m/yr"', "unit = 3", "mat.front_speed.unit: found 3"),
        ("[mat.front_speed]", "[mat.speed]", "mat.front_speed: found nothing"),
        ("[mat.front_speed]", "[mat.speed]", "mat.speed: found"),
        ("high = 1.0", "high = 1.2", "mat.max_cover.high: found 1.2"),
        ('name = "wintercreeper"\n', "", "name: found nothing"),
        ("notice =", "mat = 3\nnotice =", "not valid TOML"),
        ("notice =", "size = 3\nnotice =", "size: found 3"),
        ('["autumn"]', '["fall"]', "seed.fruit_season.value[0]: found"),
    ],
)
def test_faults_in_a_profile_are_named(profile: Callable[[str, str], Path], old: str, new: str, said: str) -> None:
    path = profile(old, new)
    assert f"{path}: {said}" in problems(lambda: load_vine(path))


def test_units_are_converted(profile: Callable[[str, str], Path]) -> None:
    path = profile('value = 0.5\nlow = 0.15\nhigh = 1.5\nunit = "m/yr"', 'value = 2\nlow = 1\nhigh = 4\nunit = "ft/yr"')
    speed = load_vine(path)["mat.front_speed"]
    assert (speed.value, speed.low, speed.high, speed.unit) == (0.6096, 0.3048, 1.2192, "m/yr")
    assert speed.note.endswith("given as 2 (1 to 4) ft/yr")


def test_objects_in_a_vine_are_checked() -> None:
    assert "a Parameter" in problems(lambda: Vine("v", "V", {"a": 3}))  # type: ignore[dict-item]
    wrong = Parameter("b", 1.0, **GIVEN)  # type: ignore[arg-type]
    assert "of that name" in problems(lambda: Vine("v", "V", {"a": wrong}))
    assert "a mapping" in problems(lambda: Vine("v", "V", 3))  # type: ignore[arg-type]
