"""Cover classes: the values of the published scales, and how people write them."""

from __future__ import annotations

import pytest

from spreadsim.inputs.cover_classes import CLASSES, SCALES, cover_of, scale_of

# Daubenmire: Rangelands Gateway; T and 1 of the modified scale: US interagency manual; Braun-Blanquet 2 to 5: handbooks;
# 2m, 2a, 2b from memory; r, + and 1 after one of the two conventions in use.
PUBLISHED = [
    ("daubenmire", "1", 0, 5, 2.5),
    ("daubenmire", "2", 5, 25, 15),
    ("daubenmire", "3", 25, 50, 37.5),
    ("daubenmire", "4", 50, 75, 62.5),
    ("daubenmire", "5", 75, 95, 85),
    ("daubenmire", "6", 95, 100, 97.5),
    ("modified daubenmire", "T", 0, 1, 0.5),
    ("modified daubenmire", "1", 1, 5, 3),
    ("modified daubenmire", "2", 5, 25, 15),
    ("braun-blanquet", "r", 0, 1, 0.1),
    ("braun-blanquet", "+", 0, 1, 0.5),
    ("braun-blanquet", "1", 1, 5, 3),
    ("braun-blanquet", "2", 5, 25, 15),
    ("braun-blanquet", "2a", 5, 15, 10),
    ("braun-blanquet", "2b", 15, 25, 20),
    ("braun-blanquet", "3", 25, 50, 37.5),
    ("braun-blanquet", "4", 50, 75, 62.5),
    ("braun-blanquet", "5", 75, 100, 87.5),
]


@pytest.mark.parametrize(("scale", "code", "low", "high", "middle"), PUBLISHED)
def test_classes_are_those_published(scale: str, code: str, low: float, high: float, middle: float) -> None:
    cover = cover_of(code, scale)
    assert cover is not None and cover.source
    assert (cover.low, cover.high, cover.middle) == pytest.approx((low / 100, high / 100, middle / 100))
    assert (cover.code, cover.scale) == (code, scale)  # what was noted is kept


def test_every_middle_lies_in_its_class() -> None:
    for scale, classes in CLASSES.items():
        assert all(0 <= one.low <= one.middle <= one.high <= 1 and one.scale == scale for one in classes.values())


@pytest.mark.parametrize(
    ("text", "scale", "middle"),
    [
        ("0.3", None, 0.3),
        ("30 %", None, 0.3),
        ("30%", "share", 0.3),
        ("30", "percent", 0.3),
        ("Daubenmire 3", None, 0.375),
        ("modified Daubenmire class T", None, 0.005),
        ("Braun-Blanquet: 2b", None, 0.2),
        ("braun blanquet +", "braun-blanquet", 0.005),
        ("3.0", "daubenmire", 0.375),  # as a spreadsheet writes the number 3
        ("class 3", "daubenmire", 0.375),
        ("0", "braun-blanquet", 0.0),
    ],
)
def test_cover_as_people_write_it(text: str, scale: str | None, middle: float) -> None:
    cover = cover_of(text, scale)
    assert cover is not None and cover.middle == pytest.approx(middle)


@pytest.mark.parametrize(
    ("text", "scale"),
    [
        ("30", None),
        ("7", "daubenmire"),
        ("T", "daubenmire"),
        ("6", "braun-blanquet"),
        ("101", "percent"),
        ("-1 %", None),
        ("", None),
        ("", "daubenmire"),
        ("nan", None),
        ("inf", "percent"),
        ("1_0", "percent"),
        ("2a", None),
        ("daubenmire 3", "braun-blanquet"),
        ("daubenmire", None),
        ("much", "percent"),
    ],
)
def test_what_is_no_cover(text: str, scale: str | None) -> None:
    assert cover_of(text, scale) is None


@pytest.mark.parametrize(
    ("name", "scale"),
    [("Braun-Blanquet Scale", "braun-blanquet"), ("% cover", "percent"), ("Daubenmire cover class", "daubenmire")]
    + [("Modified Daubenmire", "modified daubenmire"), ("stems", None), (3, None), ("", None)]
    + [(scale, scale) for scale in SCALES],
)
def test_names_of_scales(name: object, scale: str | None) -> None:
    assert scale_of(name) == scale
