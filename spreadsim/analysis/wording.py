"""Numbers as people read them: units of the country, few digits, and words for how sure."""

import math
from collections.abc import Iterable

import xarray as xr

from spreadsim.analysis.intervals import share_interval
from spreadsim.analysis.outcomes import Measure
from spreadsim.inputs import units

_SMALL_AREA = 2000.0  # m2; below, hectares and acres would show little but zeros
_MANY = ((2e7, 1e6, "million"), (2e4, 1e3, "thousand"))  # from how many on, in which steps
_ONE = {"hosts": "host", "seeds": "seed", "patches": "patch"}
_PLAIN = {"hosts": "hosts", "seeds": "seeds", "patches": "patches", "hours": "h a year"}


class Scale:
    """One unit and one number of digits for numbers that are read together.

    Parameters
    ----------
    values
        All the numbers, in SI; those not finite are ignored.
    kind
        As `Measure.kind`.
    system
        "metric" or "us".
    currency
        Name of the currency, for money.
    levels
        Those of the numbers that should keep two digits where one more decimal can do it.
    """

    def __init__(
        self,
        values: Iterable[float],
        kind: str,
        system: str = "metric",
        currency: str = "",
        levels: Iterable[float] = (),
    ) -> None:
        known = [abs(float(value)) for value in values if math.isfinite(value)]
        largest = max(known, default=0.0)
        self.factor, self.unit = 1.0, _PLAIN.get(kind, "")
        if kind == "area":
            dimension = "area" if largest < _SMALL_AREA else "large area"
            self.factor, self.unit = units.display(1.0, dimension, system)
            self.unit = {"acre": "acres"}.get(self.unit, self.unit)
        elif kind == "share":
            self.factor, self.unit = 100.0, "%"
        elif kind == "money":
            self.unit = f"{currency or 'money'} a year"
        if kind in ("seeds", "patches", "money"):
            step, word = next(((step, word) for least, step, word in _MANY if largest >= least), (1.0, ""))
            self.factor, self.unit = 1 / step, f"{word} {self.unit}".strip()
        largest *= self.factor
        small = [abs(level) * self.factor for level in levels if math.isfinite(level) and level]
        whole = _decimals(largest, 3)
        self.decimals = min(3, max(whole, min(whole + 1, _decimals(min(small, default=0.0), 2))))

    def text(self, value: float, *, sign: bool = False) -> str:
        """Give a number in the unit, without it: "1.25", "12,300", "+0.4"; "-" where it is missing."""
        if not math.isfinite(value):
            return "-"
        number = round(value * self.factor, self.decimals)
        if abs(number) >= 1000:  # three digits are all that such numbers can bear
            number = round(number, 2 - math.floor(math.log10(abs(number))))
        number = number + 0.0  # no minus before a zero
        return f"{number:{'+' if sign and number else ''},.{self.decimals if abs(number) < 1000 else 0}f}"

    def span(self, low: float, high: float, *, sign: bool = False) -> str:
        """Give a range: "0.8 to 1.9"; "-" where it is missing."""
        if not (math.isfinite(low) and math.isfinite(high)):
            return "-"
        return f"{self.text(low, sign=sign)} to {self.text(high, sign=sign)}"

    def with_unit(self, number: str) -> str:
        """Put the unit behind a number or a range."""
        if self.unit == "%":
            return f"{number} %"
        unit = _ONE.get(self.unit, self.unit) if number == "1" else self.unit
        return f"{number} {unit}".strip()


def _decimals(value: float, digits: int) -> int:
    """Decimals that show so many digits of a value; none for zero."""
    return max(0, digits - 1 - math.floor(math.log10(value))) if value > 0 else 0


def percent(share: float) -> str:
    """Give a share as a whole per cent that is 0 or 100 only when it is so exactly."""
    if not math.isfinite(share):
        return "-"
    whole = round(100 * share)
    if whole == 0 and share > 0:
        return "<1 %"
    if whole == 100 and share < 1:
        return ">99 %"
    return f"{whole} %"


def surety(successes: int, worlds: int) -> str:
    """Say in a word how surely something holds that held in some of the worlds.

    It is judged by the lower end of the 90 % interval of the share, so that few worlds give less
    confident words.

    Returns
    -------
    str
        "almost certain", "very likely", "likely", "more likely than not" or "not sure".
    """
    low = share_interval(successes, worlds, 0.9)[0]
    for least, word in ((0.95, "almost certain"), (0.8, "very likely"), (0.6, "likely")):
        if low >= least:
            return word
    return "more likely than not" if low > 0.5 else "not sure"


def title_of(measure: Measure, year: int, first: int = 0) -> str:
    """Give a measure with its time: "Infested area, end of year 30"; `first` is the year at whose end runs begin."""
    when = f"mean of {when_of(measure, year, first)}" if measure.span == "mean" else when_of(measure, year, first)
    return f"{measure.title[0].upper()}{measure.title[1:]}, {when}"


def when_of(measure: Measure, year: int, first: int = 0) -> str:
    """Give the time of a measure: "end of year 30" or "years 1 to 30"."""
    return f"end of year {year}" if measure.span == "end" else f"years {first + 1} to {year}"


def title_in(summary: xr.Dataset, measure: Measure) -> str:
    """Give a measure with the time that a summary is of."""
    return title_of(measure, int(summary.attrs["year"]), int(summary.attrs.get("first", 0)))


def scale_of(summary: xr.Dataset, measure: Measure, system: str = "metric") -> Scale:
    """Give the scale for all numbers that the summary has of a measure."""
    rows = summary.sel(measure=measure.name)
    values = [*rows["mean"].values, *rows["world_low"].values, *rows["world_high"].values]
    currency = str(summary.attrs.get("currency", ""))
    # counts of whole things need no decimals however small their means
    levels: Iterable[float] = () if measure.kind in ("hosts", "patches", "hours", "money") else rows["mean"].values
    return Scale(values, measure.kind, system, currency, levels)
