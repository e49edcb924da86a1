"""The connection to a Dask scheduler; loaded only when one is named."""

import contextlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from spreadsim.errors import InputError

try:
    import distributed
    from distributed.comm import addressing
except ImportError as error:
    raise InputError(
        "cluster: found no package distributed, allowed with it; install it with: python -m pip install "
        "'spreadsim[cluster]'"
    ) from error

untyped: Any = distributed  # half of it has no types

PATIENCE = 60.0  # s without any worker


@contextlib.contextmanager
def connected(address: str) -> Iterator[Any]:
    """Give a client of a scheduler that has a worker at least, and close it.

    Parameters
    ----------
    address
        Of the scheduler, such as ``tcp://10.0.0.5:8786``, or the path of its scheduler file.

    Raises
    ------
    InputError
        No scheduler is there.
    OSError
        It has no workers.
    """
    by_file = Path(address).is_file()
    where = {"scheduler_file": address} if by_file else {"address": address}
    try:
        if not by_file and not address.startswith("inproc://"):
            # a client that finds out by itself that it can't be an address takes 20 s to go away, with a traceback
            addressing.get_address_host_port(addressing.normalize_address(address), strict=True)
        client: Any = untyped.Client(**where, timeout=10, set_as_default=False)
    except (OSError, ValueError) as error:
        raise InputError(
            f"cluster: found no scheduler at {address!r} ({' '.join(str(error).split())[:120]}), allowed its address, "
            "such as tcp://10.0.0.5:8786, or its scheduler file"
        ) from error
    with client, client.as_current():
        try:
            client.wait_for_workers(1, timeout=PATIENCE)
        except TimeoutError as error:
            raise OSError(f"the scheduler at {address} has no workers") from error
        yield client
