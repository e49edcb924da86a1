"""Days fit to spray: against counts by hand, normal probabilities, and plain loops over the days."""

from __future__ import annotations

import json
import math
import pickle
from collections.abc import Callable, Mapping
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import norm

from spreadsim.inputs import Daily, InputError, Monthly, Weather

DAYS = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
SEASON_MONTHS = ((12, 1, 2), (3, 4, 5), (6, 7, 8), (9, 10, 11))
MILD: dict[str, Any] = {
    "temperature": [3, 5, 10, 16, 21, 26, 28, 27, 23, 17, 10, 5],
    "temperature_sd": [5.0, 5, 5, 4, 4, 3, 3, 3, 4, 4, 5, 5],
    "rain_days": [9, 8, 11, 11, 12, 10, 9, 8, 8, 8, 9, 10],
    "wind_days": [6, 6, 8, 8, 5, 3, 2, 2, 3, 4, 5, 6],
    "snow_days": [8, 6, 2, 0, 0, 0, 0, 0, 0, 0, 1, 5],
}
EVEN = {"temperature": [20] * 12, **{name: [0] * 12 for name in MILD if name != "temperature"}, "year_sd": 0}


def problems(call: Callable[[], object]) -> tuple[str, ...]:
    with pytest.raises(InputError) as caught:
        call()
    return caught.value.problems


def table(weather: Weather) -> np.ndarray:
    assert weather.table is not None
    return weather.table


def expected(numbers: Mapping[str, Any], least: float, year_sd: float = 1.5) -> list[float]:
    """Mean days by season, from normal probabilities; the day after the last of a month is the next month's."""
    four = []
    for months in SEASON_MONTHS:
        total = 0.0
        for month in months:
            m, after = month - 1, month % 12
            warm = norm.sf(least, numbers["temperature"][m], math.hypot(numbers["temperature_sd"][m], year_sd))
            dry, calm, bare = (1 - numbers[name][m] / DAYS[m] for name in ("rain_days", "wind_days", "snow_days"))
            dry_after = 1 - numbers["rain_days"][after] / DAYS[after]
            total += warm * calm * bare * dry * (dry * (DAYS[m] - 1) + dry_after)
        four.append(total)
    return four


# ---- means by season


def test_means_by_season_have_no_table_and_lose_their_closed_share() -> None:
    weather = Weather((9, 8, 7, 6))
    assert weather.table is None and weather.fit_days == (9.0, 8.0, 7.0, 6.0)
    hunt = Weather((9, 8, 7, 6), closed_days=["11-15/11-30"], closed_months=["January", 7])
    assert hunt.closed_months == (1, 7)
    assert hunt.fit_days == pytest.approx((9 * (1 - 31 / 90), 8, 7 * (1 - 31 / 92), 6 * (1 - 16 / 91)), rel=1e-14)
    assert Weather(9, closed_months=range(1, 13)).fit_days == (0.0, 0.0, 0.0, 0.0)
    assert Weather(9, closed_months=["feb"]).fit_days[0] == pytest.approx(9 * 62 / 90)
    assert Weather(9, closed_days=["02-29", "04-30"]).fit_days == pytest.approx((9, 9 * 91 / 92, 9, 9))
    around = Weather(9, closed_days=["12-25/01-06"]).fit_days
    assert around == pytest.approx((9 * (1 - 13 / 90), 9, 9, 9))


# ---- monthly


def test_even_weather_is_counted_exactly() -> None:
    assert (table(Weather(monthly=EVEN)) == [90, 92, 92, 91]).all()
    assert (table(Weather(monthly=EVEN, min_temperature=20)) == [90, 92, 92, 91]).all()
    assert not table(Weather(monthly=EVEN, min_temperature=20.01)).any()
    assert not table(Weather(monthly={**EVEN, "rain_days": DAYS.tolist()})).any()
    assert not table(Weather(monthly={**EVEN, "wind_days": DAYS.tolist()})).any()
    snow = [31, 28] + [0] * 10
    assert (table(Weather(monthly={**EVEN, "snow_days": snow})) == [31, 92, 92, 91]).all()
    rain = [0] * 10 + [30, 0]  # a wet November: the last of October has rain on the day after
    assert (table(Weather(monthly={**EVEN, "rain_days": rain})) == [90, 92, 92, 60]).all()
    hunt = Weather(monthly=EVEN, closed_days=["11-15/11-30", "12-25/01-06"], closed_months=[7])
    assert (table(hunt) == [90 - 13, 92, 92 - 31, 91 - 16]).all()


@pytest.mark.parametrize("least", [0.0, 7.0, 12.0])
def test_means_follow_the_normal_law(least: float) -> None:
    """Each season within 4.9 standard errors: a false alarm in about 10^6."""
    days = table(Weather(monthly=MILD, min_temperature=least))
    assert days.shape == (200, 4)
    error = days.std(axis=0, ddof=1) / math.sqrt(len(days))
    assert (np.abs(days.mean(axis=0) - expected(MILD, least)) < 4.9 * error).all()
    assert (error < 0.7).all(), "else the check could not fail"


def test_years_differ_as_the_spread_of_years_says() -> None:
    """With no spread from day to day a month is wholly warm or wholly cold: Binomial, 4.9 standard errors."""
    numbers = {**EVEN, "temperature": [7.5] * 12, "year_sd": 2.0}
    days = table(Weather(monthly=numbers))
    lengths = [(31, 31, 28), (31, 30, 31), (30, 31, 31), (30, 31, 30)]
    for k, three in enumerate(lengths):
        sums = {a * three[0] + b * three[1] + c * three[2] for a in (0, 1) for b in (0, 1) for c in (0, 1)}
        assert set(days[:, k]) <= sums
    warm = float(norm.sf(7, 7.5, 2))
    share = days.sum(axis=1) / 365
    assert abs(share.mean() - warm) < 4.9 * math.sqrt(warm * (1 - warm) / 12 / 200) * 1.01


def test_a_table_repeats_and_cannot_be_written() -> None:
    one, other = Weather(monthly=MILD), Weather(monthly=Monthly(**MILD))
    assert one == other and hash(one) == hash(other) and (table(one) == table(other)).all()
    assert table(one).dtype == np.float64 and table(one) is table(one)
    with pytest.raises(ValueError, match="read-only"):
        table(one)[0, 0] = 1
    assert one.fit_days == tuple(table(one).mean(axis=0))
    assert (table(pickle.loads(pickle.dumps(one))) == table(one)).all()


@settings(deadline=None, max_examples=25)
@given(st.data())
def test_better_weather_never_has_fewer_days(data: st.DataObject) -> None:
    month = data.draw(st.integers(0, 11))
    better = {name: list(values) for name, values in MILD.items()}
    better["temperature"][month] += data.draw(st.floats(0, 10))
    for name in ("rain_days", "wind_days", "snow_days"):
        better[name][month] *= data.draw(st.floats(0, 1))
    base = table(Weather(monthly=MILD, closed_days=["03-01/03-20"]))
    assert (table(Weather(monthly=better, closed_days=["03-01/03-20"])) >= base).all()
    assert (table(Weather(monthly=MILD)) >= base).all()
    assert (table(Weather(monthly=MILD, min_temperature=9)) <= table(Weather(monthly=MILD))).all()


# ---- daily


def record(first: str, days: int, **changes: Any) -> dict[str, Any]:
    """Give days that are all fit, but for what is changed: {day from 0: value}."""
    columns = {"temperature": 15.0, "rain": 0.0, "wind": 2.0, "snow": 0.0}
    made: dict[str, Any] = {name: np.full(days, value) for name, value in columns.items()}
    for name, values in changes.items():
        for day, value in values.items():
            made[name][day] = value
    return {"first": first, **made}


def test_years_of_a_record() -> None:
    assert table(Weather(daily=record("2015-01-01", 365))).tolist() == [[90, 92, 92, 91]]
    assert table(Weather(daily=record("2016-01-01", 366))).tolist() == [[91, 92, 92, 91]]
    assert table(Weather(daily=record("2014-12-01", 365))).tolist() == [[90, 92, 92, 91]]
    # December 2015 to November 2016 is whole; January to November 2015 and December 2016 make the other
    assert table(Weather(daily=record("2015-01-01", 731))).tolist() == [[91, 92, 92, 91], [90, 92, 92, 91]]
    # what is beyond the last whole year is left out
    assert table(Weather(daily=record("2015-01-01", 365 + 200))).tolist() == [[90, 92, 92, 91]]
    assert table(Weather(daily=record("2016-02-29", 366))).sum() == 366
    assert Weather(daily=record("2015-01-01", 365)).fit_days == (90.0, 92.0, 92.0, 91.0)


@pytest.mark.parametrize(
    ("changes", "lost"),
    [
        ({"temperature": {200: 7.0}}, 0),
        ({"temperature": {200: 6.99}}, 1),
        ({"wind": {200: 4.5}}, 0),
        ({"wind": {200: 4.51}}, 1),
        ({"snow": {200: 1.0}}, 1),
        ({"rain": {200: 0.1}}, 2),  # the day, and the one before it
        ({"rain": {200: 3.0, 201: 3.0}}, 3),
        ({"rain": {200: 3.0}, "wind": {199: 9.0, 200: 9.0}}, 2),
    ],
)
def test_a_day_that_is_unfit_is_lost(changes: dict[str, Any], lost: int) -> None:
    """Day 200 from 1 January is 20 July."""
    assert table(Weather(daily=record("2015-01-01", 365, **changes))).tolist() == [[90, 92, 92 - lost, 91]]


def test_limits_and_closed_days_of_a_record() -> None:
    days = record("2015-01-01", 365, temperature={200: 3.0}, wind={10: 6.0})
    assert Weather(daily=days).fit_days == (89.0, 92.0, 91.0, 91.0)
    assert Weather(daily=days, min_temperature=3, max_wind=6).fit_days == (90.0, 92.0, 92.0, 91.0)
    assert Weather(daily=days, closed_days=["11-15/11-30"]).fit_days == (89.0, 92.0, 91.0, 75.0)
    assert Weather(daily=days, closed_months=["jan"]).fit_days == (59.0, 92.0, 91.0, 91.0)


@settings(deadline=None, max_examples=40)
@given(st.dates(date(1990, 1, 1), date(2030, 1, 1)), st.integers(366, 1500), st.integers(0, 2**32 - 1))
def test_any_record_is_counted_as_a_plain_loop_does(first: date, days: int, seed: int) -> None:
    rng = np.random.default_rng(seed)
    columns = {
        "temperature": rng.normal(10, 6, days),
        "rain": np.maximum(rng.normal(-2, 3, days), 0),
        "wind": rng.gamma(3, 1, days),
        "snow": np.maximum(rng.normal(-3, 2, days), 0),
    }
    weather = Weather(daily={"first": first.isoformat(), **columns}, closed_days=["12-20/01-10"], max_wind=4)
    whole = 0
    while True:
        try:
            end = first.replace(year=first.year + whole + 1)
        except ValueError:
            end = date(first.year + whole + 1, 3, 1)
        if end > first + timedelta(days=days):
            break
        whole, last = whole + 1, end
    counts: dict[tuple[int, int], int] = {}
    for k in range((last - first).days):
        day = first + timedelta(days=k)
        fit = columns["temperature"][k] >= 7 and columns["wind"][k] <= 4 and columns["snow"][k] == 0
        fit = fit and columns["rain"][k] == 0 and (k + 1 == days or columns["rain"][k + 1] == 0)
        fit = fit and not (day.month == 12 and day.day >= 20) and not (day.month == 1 and day.day <= 10)
        season = next(k for k, months in enumerate(SEASON_MONTHS) if day.month in months)
        year = day.year + 1 if day.month == 12 else day.year
        counts[year, season] = counts.get((year, season), 0) + bool(fit)
    found = table(weather)
    assert found.shape == (whole, 4)
    started = first.year + 1 if first.month == 12 else first.year
    begun = (first.month, first.day) != (12, 1)  # the first year of the record is then not whole
    rows = [[counts.get((started + begun + k, s), 0) for s in range(4)] for k in range(whole - begun)]
    if begun:
        rows.append([counts.get((started, s), 0) + counts.get((started + whole, s), 0) for s in range(4)])
    assert found.tolist() == rows


# ---- what is refused, and round trips


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"fit_days": 3, "monthly": MILD}, "monthly: found fit_days and monthly together, allowed one of"),
        ({"monthly": MILD, "daily": record("2015-01-01", 365)}, "daily: found monthly and daily together"),
        ({"min_temperature": 5}, "min_temperature: found 5, allowed none, unless there is monthly or daily"),
        ({"monthly": MILD, "max_wind": 4}, "max_wind: found 4, allowed none, unless there is daily"),
        ({"monthly": MILD, "min_temperature": math.nan}, "min_temperature: found nan"),
        ({"daily": record("2015-01-01", 365), "max_wind": -1}, "max_wind: found -1"),
        ({"closed_months": ["julember"]}, 'closed_months[0]: found "julember", allowed a month'),
        ({"closed_months": [13]}, "closed_months[0]: found 13"),
        ({"closed_months": [True]}, "closed_months[0]: found True"),
        ({"closed_months": "july"}, 'closed_months: found "july", allowed a list'),
        ({"closed_days": ["11-31"]}, 'closed_days[0]: found "11-31", allowed days such as'),
        ({"closed_days": ["11-15/30"]}, "closed_days[0]: found"),
        ({"closed_days": ["1-1/1-2"]}, "closed_days[0]: found"),
        ({"closed_days": ["11-15", 3]}, "closed_days[1]: found 3"),
        ({"closed_days": "11-15"}, "closed_days: found"),
        ({"monthly": {**MILD, "rain_days": [1] * 11}}, "monthly.rain_days: found"),
        ({"monthly": {**MILD, "rain_days": [32] + [1] * 11}}, "monthly.rain_days[0]: found 32, allowed 0 to 31"),
        ({"monthly": {**MILD, "snow_days": [0] * 11 + [-1]}}, "monthly.snow_days[11]: found -1"),
        ({"monthly": {**MILD, "temperature": [99] + [1] * 11}}, "monthly.temperature[0]: found 99"),
        ({"monthly": {**MILD, "temperature_sd": 3}}, "monthly.temperature_sd: found 3, allowed twelve numbers"),
        ({"monthly": {**MILD, "year_sd": -1}}, "monthly.year_sd: found -1"),
        ({"monthly": {**MILD, "humidity": [1] * 12}}, "monthly.humidity: found a name that is not known"),
        ({"monthly": {"temperature": [1] * 12}}, "monthly.rain_days: found nothing"),
        ({"monthly": 3}, "monthly: found 3, allowed a Monthly"),
        ({"daily": 3}, "daily: found 3, allowed a Daily"),
        ({"daily": record("2015-01-01", 364)}, "daily.first: found 364 days, allowed at least a whole year"),
        ({"daily": record("2016-01-01", 365)}, "daily.first: found 365 days, allowed at least a whole year"),
        ({"daily": record("15.1.2015", 365)}, 'daily.first: found "15.1.2015", allowed a date'),
        ({"daily": record("2015-01-01", 365, rain={3: -1})}, "daily.rain[3]: found -1.0, allowed 0 to 2000"),
        ({"daily": record("2015-01-01", 365, wind={3: math.nan})}, "daily.wind[3]: found nan"),
        ({"daily": {**record("2015-01-01", 365), "snow": [0.0]}}, "daily.rain: found columns of [1, 365] days"),
        ({"daily": {**record("2015-01-01", 365), "snow": "none"}}, 'daily.snow: found "none", allowed numbers'),
    ],
)
def test_what_is_refused(values: dict[str, Any], said: str) -> None:
    found = problems(lambda: Weather(**values))
    assert any(f"Weather: {said}" in problem for problem in found), found


def test_everything_wrong_is_said_together() -> None:
    wrong = {"temperature": [99] * 2 + [1] * 10, "rain_days": [-1] * 12}
    assert len(problems(lambda: Weather(monthly={**MILD, **wrong}, closed_months=[0], closed_days=["x"]))) == 16


numbers = st.lists(st.floats(-20, 40), min_size=12, max_size=12)
counts = st.lists(st.floats(0, 28), min_size=12, max_size=12)
monthlies = st.builds(Monthly, numbers, counts, counts, counts, counts, year_sd=st.floats(0, 5))
closings = st.lists(st.sampled_from(["11-15/11-30", "12-24/01-06", "02-29", "05-01"]), max_size=3)
weathers = st.one_of(
    st.builds(Weather, st.tuples(*[st.floats(0, 92)] * 4), closed_days=closings),
    st.builds(Weather, monthly=monthlies, min_temperature=st.floats(-10, 20), closed_days=closings),
    st.builds(
        lambda seed, wind, months: Weather(
            daily=Daily("2019-07-04", *np.random.default_rng(seed).random((4, 400))),
            max_wind=wind,
            closed_months=months,
        ),
        st.integers(0, 2**32 - 1),
        st.floats(0, 10),
        st.lists(st.integers(1, 12), max_size=4),
    ),
)


@settings(deadline=None, max_examples=50)
@given(weathers)
def test_any_weather_comes_back_exactly(weather: Weather) -> None:
    text = json.dumps(weather.to_dict(), allow_nan=False)
    again = Weather.from_dict(json.loads(text))
    assert again == weather and json.dumps(again.to_dict()) == text
    assert again.fit_days == weather.fit_days


def test_weather_of_older_outcomes_is_read() -> None:
    assert Weather.from_dict({"fit_days": {"winter": 3.0}}) == Weather({"winter": 3.0})
