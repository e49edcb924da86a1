"""What each parameter does to an outcome, from the worlds that were run: no further runs are needed.

By SALib (Iwanaga, Usher and Herman 2022, Socio-Environ. Syst. Model. 4:18155).
"""

from collections.abc import Iterable
from typing import Any

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spreadsim.analysis.knowing import parameter_names
from spreadsim.analysis.needs import require
from spreadsim.errors import InputError, one_of

METHODS = {
    "variance": "share of the variance that goes with the parameter alone, by RBD-FAST less its bias "
    "(Tarantola et al. 2006, Reliab. Eng. Syst. Saf. 91:717; Tissot and Prieur 2012, 107:205)",
    "delta": "how much the whole distribution moves with the parameter (Borgonovo 2007, Reliab. Eng. "
    "Syst. Saf. 92:771; from given data by Plischke et al. 2013, Eur. J. Oper. Res. 226:536)",
}
_FEWEST = 50
_RESAMPLES = 20
_SHUFFLES = 3
_ONE_ERROR = 0.6826894921370859


def sensitivity(
    dataset: xr.Dataset,
    target: xr.DataArray,
    *,
    method: str = "variance",
    parameters: Iterable[str] | None = None,
    resamples: int = _RESAMPLES,
    seed: int = 0,
) -> xr.Dataset:
    """Say how much a number of each world hangs on each parameter drawn for it.

    Parameters
    ----------
    dataset
        With drawn parameters by replicate, at least 50 worlds.
    target
        (replicate,): an outcome of a strategy, or the difference of two.
    method
        One of `METHODS`.
    parameters
        Names; all that were drawn if not given.
    resamples
        For the error of each index, by bootstrap.
    seed
        Of the resampling.

    Returns
    -------
    xarray.Dataset
        By parameter, from the largest: `index` (0 to 1, but for sampling error), `error` (its standard
        error, by SALib's bootstrap), `direction` (Spearman's rank correlation, scipy). Attributes:
        `method`, and `noise`, the largest index found when the worlds are shuffled three times: what is
        not above it says nothing (missing for "delta", which is slow).

    Raises
    ------
    InputError
        An unknown name, too few worlds, or SALib is not installed.
    """
    require("scipy")
    require("SALib")
    if method not in METHODS:
        raise InputError(f'method: found "{method}", allowed {one_of(METHODS)}')
    known = parameter_names(dataset)
    names = list(known if parameters is None else parameters)
    if unknown := [name for name in names if name not in known]:
        raise InputError(*(f'parameters: found "{name}", allowed {one_of(known)}' for name in unknown))
    values = np.asarray(target.to_numpy(), dtype=float)
    if target.dims != ("replicate",) or len(values) < _FEWEST or not np.isfinite(values).all():
        raise InputError(f"target: found shape {values.shape}, allowed a finite number for each of 50 worlds or more")
    if not names or np.ptp(values) == 0:
        none = np.zeros(len(names))
        return _table(names, none, none, none, method, 0.0)
    from scipy.stats import spearmanr

    drawn = np.stack([dataset[name].to_numpy().astype(float) for name in names], axis=1)
    index, error = _indices(method, names, drawn, values, resamples, seed)
    direction = np.array([spearmanr(column, values).statistic for column in drawn.T])
    random = np.random.Generator(np.random.PCG64([seed, len(values)]))
    noise = np.nan
    if method != "delta":
        shuffled = [
            _indices(method, names, drawn, values[random.permutation(len(values))], 0, seed)[0].max()
            for _ in range(_SHUFFLES)
        ]
        noise = float(max(shuffled))
    return _table(names, index, error, direction, method, noise)


def _indices(
    method: str, names: list[str], drawn: NDArray[np.float64], values: NDArray[np.float64], resamples: int, seed: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Indices of all parameters and their standard errors, both (parameter,)."""
    analyze = _library(method)
    problem = {"num_vars": len(names), "names": names, "bounds": [[low, high] for low, high in _ranges(drawn)]}
    # SALib's half-width at this confidence is one standard error
    found = analyze(problem, drawn, values, num_resamples=max(resamples, 2), conf_level=_ONE_ERROR, seed=seed)
    key = "S1" if method == "variance" else "delta_balanced"
    return np.asarray(found[key], dtype=float), np.asarray(found[f"{key}_conf"], dtype=float)


def _ranges(drawn: NDArray[np.float64]) -> Iterable[tuple[float, float]]:
    return zip(drawn.min(axis=0).tolist(), drawn.max(axis=0).tolist(), strict=True)


def _library(method: str) -> Any:
    from SALib.analyze import delta, rbd_fast

    return {"variance": rbd_fast.analyze, "delta": delta.analyze}[method]


def _table(
    names: list[str],
    index: NDArray[np.float64],
    error: NDArray[np.float64],
    direction: NDArray[np.float64],
    method: str,
    noise: float,
) -> xr.Dataset:
    order = np.argsort(-index, kind="stable")
    columns = {"index": index[order], "error": error[order], "direction": direction[order]}
    return xr.Dataset(
        {name: ("parameter", column) for name, column in columns.items()},
        {"parameter": [names[at] for at in order]},
        {"method": METHODS[method], "noise": noise},
    )
