"""How kernels are compiled.

Kernels hand on groups of arrays; a wrapper for Python around each would cost more to compile than the kernel itself,
so only the few that Python calls have one, and only those are kept on disk (what they call is in them).
"""

from collections.abc import Callable
from typing import Any, TypeVar

from numba import njit

Function = TypeVar("Function", bound=Callable[..., Any])

inner: Callable[[Function], Function] = njit(nogil=True, no_cpython_wrapper=True, no_cfunc_wrapper=True)
entry: Callable[[Function], Function] = njit(nogil=True, cache=True)
