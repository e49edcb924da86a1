"""What outcomes and differences hang on, in words."""

import numpy as np
import xarray as xr
from numpy.typing import NDArray

from spreadsim.analysis.fact_words import plain_fact
from spreadsim.analysis.own_goals import title_of
from spreadsim.analysis.wording import percent

_MOST = 3


def given_lines(table: xr.Dataset) -> list[str]:
    """Say for each outcome and target which parameters it hangs on, with errors.

    Parameters
    ----------
    table
        From `all_sensitivity.sensitivities`.

    Returns
    -------
    list of str
        One line each, those of an outcome after a line with its name.
    """
    lines = []
    for outcome in [str(name) for name in table["outcome"].values]:
        lines.append(f"{title_of(outcome)[0].upper()}{title_of(outcome)[1:]}:")
        for target in [str(name) for name in table["target"].values]:
            one = table.sel(outcome=outcome, target=target)
            index, error = one["index"].to_numpy(), one["error"].to_numpy()
            floor = float(one["noise"]) if np.isfinite(float(one["noise"])) else 0.0
            clear = (index > floor) & (index > 2 * error)
            lines.append(f"  {target}: {_told(one, index, error, clear)}")
    return lines


def designed_lines(table: xr.Dataset) -> list[str]:
    """Say for each target which parameters it hangs on, alone and with others, with errors.

    Parameters
    ----------
    table
        From `planning.designed.designed_sensitivity`.
    """
    lines = []
    for target in [str(name) for name in table["target"].values]:
        one = table.sel(target=target)
        total, error = one["total"].to_numpy(), one["total_error"].to_numpy()
        order = np.argsort(-total, kind="stable")
        first, first_error = one["first"].to_numpy(), one["first_error"].to_numpy()
        parts = [
            f"{_name(str(one['parameter'].values[at]))} {_share(total[at], error[at])}, alone "
            f"{_share(first[at], first_error[at])}"
            for at in order
            if total[at] > 2 * error[at]
        ]
        lines.append(f"{target}: {'; '.join(parts) if parts else 'none of them surely counts'}")
    return lines


def _told(one: xr.Dataset, index: NDArray[np.float64], error: NDArray[np.float64], clear: NDArray[np.bool_]) -> str:
    order = [at for at in np.argsort(-index, kind="stable") if clear[at]]
    if not order:
        return "on none more than chance gives"
    parts = [
        f"{_name(str(one['parameter'].values[at]))} {percent(float(index[at]))} (±{percent(float(error[at]))}, "
        f"{'higher' if float(one['direction'][at]) > 0 else 'lower'} with more of it)"
        for at in order[:_MOST]
    ]
    rest = len(order) - _MOST
    return "; ".join(parts) + (f"; and {rest} more" if rest > 0 else "")


def _share(index: float, error: float) -> str:
    return f"{percent(max(0.0, float(index)))} (±{percent(float(error))})"


def _name(parameter: str) -> str:
    plain = plain_fact(parameter)
    return f"{plain[0]} ({parameter})" if plain is not None else parameter
