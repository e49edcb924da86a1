"""Intervals: of a mean by resampling, of a share by Wilson's score, of a quantile by ranks.

Plain numpy, so that the first answer needs no large statistics package; the tests compare them with
scipy and with published values.
"""

import math
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]

RESAMPLES = 9999
_FEWEST_DIFFERENT = 20
_FEWEST_RESAMPLED = 5
_FEWEST_WEIGHTY = 1.5
_BLOCK = 2_000_000
_NORMAL = NormalDist()


def mean_interval(values: ArrayLike, confidence: float = 0.9, seed: int = 0) -> tuple[Floats, Floats]:
    """Give an interval of the mean that holds for skewed values, by bootstrap.

    The studentised bootstrap (bootstrap-t) is used: of the usual ways it keeps its confidence best
    when values are skewed. It needs a spread in every resample, so columns in which nearly all
    values are the same or one outweighs all others, and columns for which it has no finite answer,
    get the bias-corrected and accelerated (BCa) interval instead (Efron 1987, J. Am. Stat. Assoc.
    82:171, from memory).
    Two to four values are too few to resample; they get Student's interval, which is wide.

    Parameters
    ----------
    values
        (replicate,) or (replicate, column), finite.
    confidence
        Between 0 and 1.
    seed
        The same seed, number of replicates and values give the same interval.

    Returns
    -------
    tuple of numpy.ndarray
        Low and high, (column,). Both are the mean where all values are the same, and NaN for a
        single replicate, which says nothing about chance.
    """
    columns = np.asarray(values, dtype=float)
    columns = columns.reshape(columns.shape[0], -1)
    count, width = columns.shape
    mean = columns.mean(axis=0)
    if count < 2:
        return np.full(width, np.nan), np.full(width, np.nan)
    constant = np.ptp(columns, axis=0) == 0
    mean = np.where(constant, columns[0], mean)
    centred = columns - mean
    error = np.sqrt((centred**2).sum(axis=0) / count / (count - 1))
    if count < _FEWEST_RESAMPLED:
        half = _student(count, confidence) * error
        return mean - half, mean + half
    means, errors = _resample(centred, seed)
    ranks = max(1, math.floor((1 - confidence) / 2 * (RESAMPLES + 1)))
    scale = np.abs(centred).max(axis=0)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.where(errors > 1e-9 * scale, means / errors, np.copysign(np.inf, means))
    ratio = np.sort(ratio, axis=0)
    with np.errstate(invalid="ignore"):
        low = mean - ratio[RESAMPLES - ranks] * error
        high = mean - ratio[ranks - 1] * error
    for column in np.flatnonzero(~constant):
        bounds = low[column], high[column]
        if not np.isfinite(bounds).all() or _hangs_on_few(columns[:, column]):
            low[column], high[column] = _bca(centred[:, column], means[:, column], confidence) + mean[column]
    return np.where(constant, mean, low), np.where(constant, mean, high)


def share_interval(successes: float, trials: int, confidence: float = 0.9) -> tuple[float, float]:
    """Give Wilson's score interval of a share (Newcombe 1998, Stat. Med. 17:857).

    Parameters
    ----------
    successes, trials
        Of `trials` worlds, `successes` were so.
    confidence
        Between 0 and 1.

    Returns
    -------
    tuple of float
        Low and high, within 0 to 1; NaN without trials.
    """
    if trials < 1:
        return math.nan, math.nan
    z = _NORMAL.inv_cdf((1 + confidence) / 2)
    share = successes / trials
    middle = share + z * z / (2 * trials)
    half = z * math.sqrt(share * (1 - share) / trials + z * z / (4 * trials * trials))
    total = 1 + z * z / trials
    low = 0.0 if successes == 0 else (middle - half) / total
    high = 1.0 if successes == trials else (middle + half) / total
    return low, high


def quantile_ranks(count: int, quantile: float = 0.5, confidence: float = 0.9) -> tuple[int, int] | None:
    """Give the ranks (from 1) of the ordered values that enclose a quantile, whatever the law.

    Parameters
    ----------
    count
        Number of values.
    quantile
        0.5 for the median.
    confidence
        At least this much, with at most half of the rest in either tail.

    Returns
    -------
    tuple of int or None
        Lower and upper rank; None if so few values cannot enclose it so surely.
    """
    steps = np.arange(count + 1)
    logs = np.array([math.lgamma(k + 1) for k in range(count + 1)])
    weights = logs[-1] - logs - logs[::-1] + steps * math.log(quantile)
    below = np.cumsum(np.exp(weights + (count - steps) * math.log1p(-quantile)))
    tail = (1 - confidence) / 2
    lower = int(np.searchsorted(below, tail, side="right"))
    upper = int(np.searchsorted(below, 1 - tail, side="left")) + 1
    return (lower, upper) if lower >= 1 and upper <= count else None


def _resample(centred: Floats, seed: int) -> tuple[Floats, Floats]:
    """Means and standard errors of resamples of the rows, (RESAMPLES, column)."""
    count, width = centred.shape
    random = np.random.Generator(np.random.PCG64([abs(int(seed)), count]))
    means = np.empty((RESAMPLES, width))
    errors = np.empty((RESAMPLES, width))
    step = max(1, _BLOCK // count)
    for first in range(0, RESAMPLES, step):
        size = min(step, RESAMPLES - first)
        chosen = random.integers(0, count, (size, count)) + count * np.arange(size)[:, None]
        weights = np.bincount(chosen.ravel(), minlength=size * count).reshape(size, count) / count
        block = weights @ centred
        spread = np.maximum(weights @ centred**2 - block**2, 0)
        means[first : first + size] = block
        errors[first : first + size] = np.sqrt(spread / (count - 1))
    return means, errors


def _student(count: int, confidence: float) -> float:
    """Quantile of Student's t for 2 to 4 values; 4 get that of 3, the next that has a closed form."""
    if count == 2:
        return math.tan(math.pi / 2 * confidence)
    return confidence * math.sqrt(2 / (1 - confidence**2))


def _hangs_on_few(values: Floats) -> bool:
    """Whether so few values make the spread that some resamples would hold none of them.

    Either few differ from the commonest, or one outweighs the rest: the squared deviations d have
    an effective number, (sum d)^2 / sum d^2, near 1.
    """
    commonest = int(np.unique(values, return_counts=True)[1].max())
    squares = (values - values.mean()) ** 2
    weighty = squares.sum() ** 2 / (squares**2).sum() if squares.any() else 0.0
    few_differ = commonest > 1 and len(values) - commonest < _FEWEST_DIFFERENT
    return bool(few_differ or weighty < _FEWEST_WEIGHTY)


def _bca(centred: Floats, means: Floats, confidence: float) -> Floats:
    """Bias-corrected and accelerated bounds of the mean, less the mean."""
    tie = 1e-12 * np.abs(centred).max()
    below = (np.sum(means < -tie) + 0.5 * np.sum(np.abs(means) <= tie)) / len(means)
    bias = _NORMAL.inv_cdf(min(max(float(below), 1 / len(means)), 1 - 1 / len(means)))
    # leaving out one value moves the mean by -value / (n - 1), hence the plain skewness here
    acceleration = float((centred**3).sum() / (6 * (centred**2).sum() ** 1.5))
    tail = (1 - confidence) / 2

    def place(z: float) -> float:
        return _NORMAL.cdf(bias + (bias + z) / (1 - acceleration * (bias + z)))

    quantiles = [place(_NORMAL.inv_cdf(tail)), place(_NORMAL.inv_cdf(1 - tail))]
    return np.asarray(np.quantile(means, quantiles))
