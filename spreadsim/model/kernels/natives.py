"""Native cover under and after the mat."""

import math
from typing import Any

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    EMPTY,
    N_TOUCHED,
    TOUCHED,
)


@inner
def native_target(state: Any, vine: Any, c: Any) -> Any:
    """Native cover that the mat of a cell, as surveyed, leaves room for, relative to clean ground."""
    covered = state.cells[c].cover if state.cells[c].kind != EMPTY else 0.0
    return 1.0 - (1.0 - vine.native_cover_under_full_mat) * covered / vine.max_cover


@inner
def change_natives(state: Any, vine: Any) -> None:
    """A year's change in every cell that ever had mat: down with the mat at once, up slowly and not all the way."""
    gain = 1.0 - math.exp(-1.0 / vine.native_recovery_time)
    for i in range(state.count[N_TOUCHED]):
        c = state.lists[TOUCHED, i]
        cell = state.cells[c]
        target = native_target(state, vine, c)
        if cell.native > target:
            cell.native = target
        else:
            target = min(target, max(cell.native, vine.native_recovery_ceiling))
            cell.native = cell.native + (target - cell.native) * gain
