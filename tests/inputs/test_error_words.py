"""How problems are collected and worded."""

from __future__ import annotations

import pickle

import numpy as np
import pytest

from spreadsim.errors import MISSING, InputError, Problems, Said, join_places, one_of, show


def test_all_problems_are_raised_together_in_order() -> None:
    problems = Problems()
    problems.raise_if_any()
    problems.add("a.toml", "crews[0].pace", 3, "0 to 2")
    problems.add("", "", "x", one_of(["a", "b"]))
    with pytest.raises(InputError) as caught:
        problems.raise_if_any()
    assert caught.value.problems == (
        "a.toml: crews[0].pace: found 3, allowed 0 to 2",
        'found "x", allowed one of "a", "b"',
    )
    assert str(caught.value) == "\n".join(caught.value.problems)
    assert isinstance(caught.value, ValueError)


def test_the_same_problem_twice_is_noted_once() -> None:
    problems = Problems()
    for _ in range(2):
        problems.add("f", "p", 1, "2")
    problems.add("f", "p", MISSING, "a number")  # it is there, but wrong: not missing as well
    problems.add("f", "q", MISSING, "a number")
    assert [str(one) for one in problems.found] == [
        "f: p: found 1, allowed 2",
        "f: q: found nothing, allowed a number",
    ]


def test_problems_are_taken_over_with_their_new_place() -> None:
    inner = Problems()
    inner.add("Crew", "pace", 3, "0 to 2")
    outer = Problems()
    with pytest.raises(InputError) as caught:
        inner.raise_if_any()
    outer.absorb(caught.value, file="a.toml", place="crews[1]")
    outer.absorb(InputError("plain words"))
    assert [str(one) for one in outer.found] == [
        "a.toml: crews[1].pace: found 3, allowed 0 to 2",
        "plain words",
    ]


def test_an_error_travels_between_processes() -> None:
    problems = Problems()
    problems.add("a", "b", "c", "d")
    with pytest.raises(InputError) as caught:
        problems.raise_if_any()
    again = pickle.loads(pickle.dumps(caught.value))
    assert again.problems == caught.value.problems and again.details == caught.value.details


@pytest.mark.parametrize(
    ("value", "text"),
    [
        ("x", '"x"'),
        (Said("shape (2, 3)"), "shape (2, 3)"),
        (np.float64(1.5), "1.5"),
        (np.int16(3), "3"),
        (float("nan"), "nan"),
        (MISSING, "nothing"),
        ("two\nlines", '"two lines"'),
    ],
)
def test_values_are_quoted_on_one_line(value: object, text: str) -> None:
    assert show(value) == text


def test_long_values_are_cut() -> None:
    assert len(show("x" * 500)) == 80
    assert "too large" in show(10**5000)
    nested: list[object] = []
    for _ in range(100_000):
        nested = [nested]
    assert len(show(nested)) <= 80


def test_places_are_joined() -> None:
    assert join_places("", "a") == "a"
    assert join_places("a", "") == "a"
    assert join_places("a", "b") == "a.b"
    assert join_places("a", "[1]") == "a[1]"
