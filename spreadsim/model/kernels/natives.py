"""Native cover under and after the mat."""

from typing import Any

from spreadsim.model.kernels.compiling import inner


@inner
def native_target(vine: Any, thick: Any) -> Any:
    """Native cover that mat of this cover leaves room for, relative to clean ground."""
    return 1.0 - (1.0 - vine.native_cover_under_full_mat) * thick / vine.max_cover


@inner
def change_natives(stand: Any, vine: Any, thick: Any, gain: Any) -> None:
    """A year's change in a cell that ever had mat or harm: down with the mat at once, up slowly and not all the way."""
    target = native_target(vine, thick)
    if stand.native > target:
        stand.native = target
    else:
        target = min(target, max(stand.native, vine.native_recovery_ceiling))
        stand.native = stand.native + (target - stand.native) * gain
