"""Native cover under and after the mat."""

import math
from typing import Any

from spreadsim.model.kernels.compiling import inner
from spreadsim.model.kernels.layout import (
    N_TOUCHED,
    TOUCHED,
)
from spreadsim.model.kernels.mat import cover


@inner
def native_target(ground: Any, state: Any, vine: Any, c: Any, now: Any) -> Any:
    """Native cover that the mat of a cell leaves room for, relative to clean ground."""
    return 1.0 - (1.0 - vine.native_cover_under_full_mat) * cover(ground, state, vine, c, now) / vine.max_cover


@inner
def change_natives(ground: Any, state: Any, vine: Any, now: Any) -> None:
    """A year's change in every cell that ever had mat: down with the mat at once, up slowly and not all the way."""
    gain = 1.0 - math.exp(-1.0 / vine.native_recovery_time)
    for i in range(state.count[N_TOUCHED]):
        c = state.lists[TOUCHED, i]
        cell = state.cells[c]
        target = native_target(ground, state, vine, c, now)
        if cell.native > target:
            cell.native = target
        else:
            target = min(target, max(cell.native, vine.native_recovery_ceiling))
            cell.native = cell.native + (target - cell.native) * gain
