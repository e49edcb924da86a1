"""How kernels are compiled.

Kernels hand on groups of arrays; a wrapper for Python around each would cost more to compile than the kernel itself,
so only the few that Python calls have one, and only those are kept on disk (what they call is in them).
"""

from collections.abc import Callable
from typing import Any, TypeVar

from numba import njit

Function = TypeVar("Function", bound=Callable[..., Any])

# Without numba's reference counting: no kernel makes an array, and counting each look at one cost five sixths of the
# time and would make threads wait for one another.
_COMMON: dict[str, Any] = {"nogil": True, "_nrt": False, "error_model": "numpy"}
_WITHOUT_WRAPPERS: dict[str, Any] = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}

inner: Callable[[Function], Function] = njit(**_COMMON, **_WITHOUT_WRAPPERS)
entry: Callable[[Function], Function] = njit(**_COMMON, cache=True)
