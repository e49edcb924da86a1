"""Native cover under and after the mat."""

from typing import Any

from spreadsim.model.kernels.compiling import inner


@inner
def native_target(vine: Any, thick: Any) -> Any:
    """Native cover that mat of this cover leaves room for, relative to clean ground."""
    return 1.0 - (1.0 - vine.native_cover_under_full_mat) * thick / vine.max_cover


@inner
def change_natives(state: Any, vine: Any, c: Any, thick: Any, gain: Any) -> None:
    """A year's change in a cell that ever had mat or harm: down with the mat at once, up slowly and not all the way."""
    cell = state.cells[c]
    target = native_target(vine, thick)
    if cell.native > target:
        cell.native = target
    else:
        target = min(target, max(cell.native, vine.native_recovery_ceiling))
        cell.native = cell.native + (target - cell.native) * gain
