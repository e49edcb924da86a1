"""Numbers and words for people."""

import pytest

from spreadsim.analysis.outcomes import MEASURES
from spreadsim.analysis.wording import Scale, percent, surety, title_of

ACRE = 4046.8564224  # m2, by definition (catalogue of outside checks, section 12)


@pytest.mark.parametrize(
    ("value", "system", "told"),
    [
        (12_345.0, "metric", "1.23 ha"),
        (123_450.0, "metric", "12.3 ha"),
        (2 * ACRE, "us", "2.00 acres"),
        (500.0, "metric", "500 m2"),
        (9.290304, "us", "100 ft2"),
        (0.0, "metric", "0 m2"),
    ],
)
def test_areas_in_the_units_of_the_country(value, system, told):
    scale = Scale([value], "area", system)
    assert scale.with_unit(scale.text(value)) == told


def test_numbers_that_are_read_together_share_unit_and_digits():
    scale = Scale([30_000, 400, float("nan")], "area")
    assert (scale.text(400), scale.text(30_000)) == ("0.04", "3.00")
    assert scale.span(400, 30_000) == "0.04 to 3.00"
    finer = Scale([30_000, 412], "area", levels=[30_000, 412])
    assert finer.span(412, 30_000) == "0.041 to 3.000"
    assert Scale([120_000, 412], "area", levels=[412]).text(412) == "0.04"  # one more decimal, not two
    assert scale.text(float("nan")) == "-" and scale.span(float("nan"), 1) == "-"


def test_signs_and_large_numbers():
    money = Scale([12_345.0], "money", currency="CAD")
    assert money.with_unit(money.text(12_345)) == "12,300 CAD a year"
    assert money.text(-0.2, sign=True) == "0" and money.text(55, sign=True) == "+55"
    seeds = Scale([250_000.0], "seeds")
    assert seeds.with_unit(seeds.text(249_600.0)) == "250 thousand seeds"
    few = Scale([150.0], "seeds")
    assert few.with_unit(few.text(150.0)) == "150 seeds"
    cover = Scale([0.755], "share")
    assert cover.with_unit(cover.text(0.755)) == "75.5 %"


@pytest.mark.parametrize(
    ("share", "told"),
    [(0, "0 %"), (1, "100 %"), (0.004, "<1 %"), (0.997, ">99 %"), (0.5, "50 %"), (float("nan"), "-")],
)
def test_per_cent_is_whole_and_never_sure_without_cause(share, told):
    assert percent(share) == told


@pytest.mark.parametrize(
    ("successes", "worlds", "word"),
    # lower ends of Wilson's 90 % interval, (p + z2/2n - z sqrt(p q / n + z2/4n2)) / (1 + z2/n), z = 1.645
    [
        (200, 200, "almost certain"),  # .987
        (190, 200, "very likely"),  # .918
        (60, 60, "almost certain"),  # .957
        (50, 50, "very likely"),  # .949
        (10, 10, "likely"),  # .787
        (120, 200, "more likely than not"),  # .542
        (105, 200, "not sure"),  # .467
        (1, 1, "not sure"),  # .270
        (0, 0, "not sure"),
    ],
)
def test_words_for_how_sure_need_enough_worlds(successes, worlds, word):
    assert surety(successes, worlds) == word


def test_titles_say_when():
    titles = {measure.name: title_of(measure, 30) for measure in MEASURES}
    assert titles["infested_area"] == "Infested area, end of year 30"
    assert titles["seeds_exported"] == "Seed leaving the site, years 1 to 30"
    assert titles["hours"] == "Hours worked, mean of years 1 to 30"
