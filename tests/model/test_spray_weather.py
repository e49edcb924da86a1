"""Hours fit to spray follow from the weather given: monthly means, a record of days, closed months and days."""

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from spreadsim.inputs import Crew, Task, Weather

from .helpers import ERRORS
from .small import PER_CELL, by_season, go, meadow, steady

FIT_HOURS = 4.5
MILD = {
    "temperature": [20.0] * 12,
    "temperature_sd": [0.0] * 12,
    "rain_days": [0.0] * 12,
    "wind_days": [0.0] * 12,
    "snow_days": [0.0] * 12,
    "year_sd": 0.0,
}


def sprayed(weather: Weather, people: int = 2, years: int = 3, replicates: int = 5) -> Any:
    """Hours sprayed by replicate, year and season, with more ground and hours than days."""
    spray = steady("spot-spray", mat_kill=0.0, fit_hours_per_day=FIT_HOURS)
    crews = (Crew("staff", 5000.0, people=people),)
    data = go(
        meadow(30, 30),
        Task("spot-spray"),
        crews=crews,
        treatments=[spray],
        weather=weather,
        years=years,
        replicates=replicates,
    )
    return by_season(data, "hours")


def days_of(hours: Any, people: int) -> Any:
    """Days that these hours took: less than one cell's work is left over of them."""
    days = np.round(hours / (FIT_HOURS * people) + 1e-9)
    assert (np.abs(hours - days * FIT_HOURS * people) < PER_CELL).all()
    assert (hours <= days * FIT_HOURS * people + 1e-9).all()
    return days


@pytest.mark.parametrize("people", [1, 2, 5])
def test_four_winter_days_give_four_days_of_spraying(people: int):
    weather = Weather(monthly=MILD, closed_days=["12-05/02-29"], closed_months=range(3, 12))
    assert (weather.table == [4.0, 0.0, 0.0, 0.0]).all()
    hours = sprayed(weather, people)
    assert (days_of(hours, people) == [4.0, 0.0, 0.0, 0.0]).all()
    assert (hours[..., 0] > 4 * FIT_HOURS * people - PER_CELL).all()


def test_cold_months_leave_four_days_on_average_and_the_years_differ():
    # highs about 2 degC in winter, so that one day in 23 or so reaches 7 degC
    winter = {"temperature": [-1.6, -1.6, *[20.0] * 9, -1.6], "temperature_sd": [5.0] * 12, "year_sd": 1.5}
    weather = Weather(monthly=MILD | winter, closed_months=range(3, 12))
    table = weather.table
    assert 2.0 < table[:, 0].mean() < 6.0
    days = days_of(sprayed(weather, years=5, replicates=100), 2)
    assert not days[..., 1:].any()
    assert np.isin(days[..., 0], table[:, 0]).all() and np.unique(days[..., 0]).size > 3
    error = table[:, 0].std() / np.sqrt(days[..., 0].size)
    assert abs(days[..., 0].mean() - table[:, 0].mean()) <= ERRORS * error


def record(folder: Path, fit: list[str]) -> Path:
    """A year of rain but for the days named and the days after them (rain tomorrow washes off)."""
    dry = {date.fromisoformat(day) + timedelta(k) for day in fit for k in (0, 1)}
    lines = ["date,temperature,rain,wind,snow"]
    for k in range(365):
        day = date(2021, 1, 1) + timedelta(k)
        lines.append(f"{day},15,{0 if day in dry else 8},2,0")
    path = folder / "invented-days.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_a_record_of_days_gives_its_own_days(tmp_path: Path):
    days = ["2021-01-05", "2021-01-20", "2021-02-03", "2021-12-11", "2021-04-01", "2021-10-10", "2021-10-20"]
    path = record(tmp_path, days)
    assert (days_of(sprayed(Weather(daily=path)), 2) == [4.0, 1.0, 0.0, 2.0]).all()
    closed = Weather(daily=path, closed_months=["april"], closed_days=["10-15/10-30"])
    assert (days_of(sprayed(closed), 2) == [4.0, 0.0, 0.0, 1.0]).all()
    too_cold = Weather(daily=path, min_temperature=16.0)
    assert not sprayed(too_cold).any()
    too_windy = Weather(daily=path, max_wind=1.5)
    assert not sprayed(too_windy).any()


def test_closed_months_give_none_where_means_by_season_are_given():
    open_all = days_of(sprayed(Weather((9.0, 9.0, 9.0, 9.0)), replicates=40), 2)
    closed = days_of(sprayed(Weather((9.0, 9.0, 9.0, 9.0), closed_months=[9, 10, 11]), replicates=40), 2)
    assert open_all[..., 3].mean() > 5.0 and not closed[..., 3].any()
    assert (closed[..., :3] == open_all[..., :3]).all()
    half = days_of(sprayed(Weather((9.0, 9.0, 9.0, 9.0), closed_months=[3]), replicates=200), 2)[..., 1]
    expected = 9.0 * (1 - 31 / 92)
    assert abs(half.mean() - expected) <= ERRORS * np.sqrt(expected / half.size)
