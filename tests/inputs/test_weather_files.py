"""The weather of an experiment file, metric and not, and how its faults are named."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pytest

from spreadsim.inputs import InputError, Monthly, Weather, read_experiment

Edit = Callable[[str, str, str], Path]
OLD = "[weather]\nfit_days = { winter = 3, autumn = 6 }\n"
MONTHLY = """
[weather]
min_temperature = {least}
closed_months = ["july", 8]
closed_days = ["11-15/11-30"]

[weather.monthly]
temperature = {temperature}
temperature_sd = {sd}
rain_days = [9, 8, 11, 11, 12, 10, 9, 8, 8, 8, 9, 10]
wind_days = [6, 6, 8, 8, 5, 3, 2, 2, 3, 4, 5, 6]
snow_days = [8, 6, 2, 0, 0, 0, 0, 0, 0, 0, 1, 5]
year_sd = {year_sd}
"""
HIGHS = [3.0, 5.0, 10.0, 16.0, 21.0, 26.0, 28.0, 27.0, 23.0, 17.0, 10.0, 5.0]


def problems(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        read_experiment(path)
    return str(caught.value).replace(f"{path.parent}/", "")


def days_csv(path: Path, *, us: bool = False, days: int = 400) -> None:
    """Write days that differ, metric or not."""
    rng = np.random.default_rng(3)
    lines = ["date,temperature,rain,wind,snow"]
    for k in range(days):
        high, rain, wind = rng.normal(10, 6), max(rng.normal(-2, 3), 0.0), rng.gamma(3, 1)
        if us:  # by definition: 1 in = 25.4 mm, 1 mile = 1609.344 m
            high, rain, wind = high * 9 / 5 + 32, rain / 25.4, wind * 3600 / 1609.344
        day = date(2019, 7, 4) + timedelta(days=k)
        lines.append(f"{day},{high!r},{rain!r},{wind!r},{int(k % 50 == 0)}")
    path.write_text("\n".join(lines).replace("np.float64(", "").replace(")", "") + "\n", encoding="utf-8")


def test_monthly_means_are_read(edit: Edit) -> None:
    new = MONTHLY.format(least=8, temperature=HIGHS, sd=[5.0] * 12, year_sd=2)
    weather = read_experiment(edit("experiment.toml", OLD, new)).weather
    numbers = [9, 8, 11, 11, 12, 10, 9, 8, 8, 8, 9, 10], [6, 6, 8, 8, 5, 3, 2, 2, 3, 4, 5, 6]
    monthly = Monthly(HIGHS, [5] * 12, *numbers, [8, 6, 2, *[0] * 7, 1, 5], year_sd=2)  # type: ignore[arg-type]
    given = {"min_temperature": 8, "closed_months": [7, 8], "closed_days": ["11-15/11-30"]}
    assert weather == Weather(monthly=monthly, **given)  # type: ignore[arg-type]


def test_monthly_means_in_fahrenheit_are_the_same(edit: Edit) -> None:
    highs = [high * 9 / 5 + 32 for high in HIGHS]
    new = MONTHLY.format(least=44.6, temperature=highs, sd=[9.0] * 12, year_sd=2.7)
    edit("experiment.toml", "seed = 7", 'seed = 7\nunits = "us"')
    weather = read_experiment(edit("experiment.toml", OLD, new)).weather
    assert weather.monthly is not None and weather.min_temperature == pytest.approx(7, abs=1e-12)
    assert weather.monthly.temperature == pytest.approx(HIGHS, abs=1e-12)
    assert weather.monthly.temperature_sd == pytest.approx([5] * 12) and weather.monthly.year_sd == pytest.approx(1.5)
    usual = new.replace("year_sd = 2.7\n", "").replace("min_temperature = 44.6\n", "")
    again = read_experiment(edit("experiment.toml", new, usual)).weather
    assert again.monthly is not None and (again.monthly.year_sd, again.min_temperature) == (1.5, 7.0)


def test_a_record_is_read(folder: Path, edit: Edit) -> None:
    days_csv(folder / "days.csv")
    metric = read_experiment(edit("experiment.toml", OLD, '[weather]\ndaily = "days.csv"\nmax_wind = 4\n')).weather
    assert metric.daily is not None and metric.daily.first == "2019-07-04" and metric.daily.rain.size == 400
    assert metric.daily.snow[:3].tolist() == [1, 0, 0]
    assert metric == Weather(daily=folder / "days.csv", max_wind=4)
    assert metric.table is not None and metric.table.shape == (1, 4) and 20 < metric.table.sum() < 300
    edit("experiment.toml", "max_wind = 4\n", f"max_wind = {4 * 3600 / 1609.344!r}\n")
    days_csv(folder / "days.csv", us=True)
    us = read_experiment(edit("experiment.toml", "seed = 7", 'seed = 7\nunits = "us"')).weather
    assert us.daily is not None
    for name in ("temperature", "rain", "wind"):
        assert getattr(us.daily, name) == pytest.approx(getattr(metric.daily, name), rel=1e-12, abs=1e-12)
    assert us.fit_days == metric.fit_days


@pytest.mark.parametrize(
    ("line", "new", "said"),
    [
        (3, "2019-07-07,1,1,1,0", 'days.csv: line 4, date: found "2019-07-07", allowed the day after the one before'),
        (3, "2019-07-05,1,1,1,0", 'days.csv: line 4, date: found "2019-07-05", allowed the day after the one before'),
        (3, "6.7.2019,1,1,1,0", 'days.csv: line 4, date: found "6.7.2019", allowed a date such as 2015-01-31'),
        (3, "2019-02-31,1,1,1,0", 'days.csv: line 4, date: found "2019-02-31", allowed a date'),
        (3, "2019-07-06,1,,1,0", "days.csv: line 4, rain: found nothing, allowed a number"),
        (3, ",1,1,1,0", "days.csv: line 4, date: found nothing, allowed a text"),
        (3, "2019-07-06,1,-1,1,0", "days.csv: line 4, rain: found -1.0, allowed 0 to 2000"),
        (3, "2019-07-06,99,1,1,0", "days.csv: line 4, temperature: found 99.0, allowed -90 to 60"),
        (3, "2019-07-06,1,1,calm,0", 'days.csv: line 4, wind: found "calm", allowed a finite number'),
        (0, "date,temperature,rain,wind", 'days.csv: line 1: found no column "snow"'),
        (0, "date,high,rain,wind,snow", 'days.csv: line 1: found column "high"'),
    ],
)
def test_faults_of_a_record(folder: Path, edit: Edit, line: int, new: str, said: str) -> None:
    path = edit("experiment.toml", OLD, '[weather]\ndaily = "days.csv"\n')
    days_csv(folder / "days.csv")
    lines = (folder / "days.csv").read_text().splitlines()
    lines[line] = new
    (folder / "days.csv").write_text("\n".join(lines))
    assert said in problems(path)


def test_a_record_of_less_than_a_year_is_refused(folder: Path, edit: Edit) -> None:
    path = edit("experiment.toml", OLD, '[weather]\ndaily = "days.csv"\n')
    days_csv(folder / "days.csv", days=365)  # of July 2019 to July 2020: a year of 366
    assert "days.csv: found 365 days, allowed at least a whole year of days" in problems(path)
    (folder / "days.csv").write_text("date,temperature,rain,wind,snow\n")
    assert "days.csv: found no days" in problems(path)


@pytest.mark.parametrize(
    ("new", "said"),
    [
        ('daily = "none.csv"', "none.csv: found no such file"),
        ('daily = "../days.csv"', 'experiment.toml: weather.daily: found "../days.csv", allowed a path relative'),
        ("daily = 3", "experiment.toml: weather.daily: found 3, allowed a text"),
        ("fit_days = 3\nmax_wind = 3", "experiment.toml: weather.max_wind: found 3.0, allowed none"),
        ("closed_months = [13]", "experiment.toml: weather.closed_months[0]: found 13"),
        ('closed_days = ["13-01"]', 'experiment.toml: weather.closed_days[0]: found "13-01"'),
        ("closed_days = [3]", "experiment.toml: weather.closed_days[0]: found 3, allowed a text"),
        ("monthly = 3", "experiment.toml: weather.monthly: found 3, allowed a table"),
        ("monthly = {rain_days = 3}", "experiment.toml: weather.monthly.rain_days: found 3, allowed a list"),
        ("monthly = {rain_days = [3]}", "experiment.toml: weather.monthly.temperature: found nothing, allowed a list"),
        ("rainy_days = 3", "experiment.toml: weather.rainy_days: found a key that is not known"),
        ('fit_days = 3\ndaily = "days.csv"', "experiment.toml: weather.daily: found fit_days and daily together"),
    ],
)
def test_faults_of_the_weather(folder: Path, edit: Edit, new: str, said: str) -> None:
    days_csv(folder / "days.csv")
    assert said in problems(edit("experiment.toml", OLD, f"[weather]\n{new}\n"))


def test_faults_are_named_in_the_unit_of_the_file(edit: Edit) -> None:
    new = MONTHLY.format(least=500, temperature=[*HIGHS[:11], 400], sd=[5.0] * 12, year_sd=2)
    edit("experiment.toml", OLD, new)
    said = problems(edit("experiment.toml", "seed = 7", 'seed = 7\nunits = "us"'))
    assert "weather.min_temperature: found 500.0, allowed -58 to 140" in said
    assert "weather.monthly.temperature[11]: found 400.0, allowed -130 to 140" in said
    assert len(said.splitlines()) == 2
