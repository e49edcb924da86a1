"""How much of an outcome is read at once: whole chunks of the file along the replicates, within a bound of memory."""

from typing import Any

STRIP_BYTES = 16e6  # of values as they are read; what is computed of them takes a few times as much


def strip_of(variable: Any, bound: float = STRIP_BYTES) -> int:
    """Give how many replicates of one strategy to read at once.

    Parameters
    ----------
    variable
        Variable or DataArray along replicate; that of a file says there in which chunks it lies.
    bound
        Bytes that they may take, unless one chunk takes more.

    Returns
    -------
    int
        At least 1; a whole number of chunks where the file is chunked, unless that is all replicates.
    """
    sizes: dict[str, int] = {str(dim): size for dim, size in variable.sizes.items()}
    one = int(variable.dtype.itemsize)
    for dim, size in sizes.items():
        one *= 1 if dim in ("strategy", "replicate") else max(1, size)
    chunk = max(1, int(variable.encoding.get("preferred_chunks", {}).get("replicate", 1)))
    return max(1, min(sizes["replicate"], chunk * max(1, int(bound / (one * chunk)))))
