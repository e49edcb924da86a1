"""Growth in the shade: how fast the mat goes and thickens in a cell."""

import math
from typing import Any

from spreadsim.model.kernels.compiling import inner


@inner
def light_factor(ground: Any, vine: Any, c: Any) -> Any:
    """Growth in a cell's shade relative to full light."""
    return 1.0 - ground.canopy[c] * (1.0 - vine.shade_factor)


@inner
def slowness(ground: Any, vine: Any, c: Any) -> Any:
    """Years per metre of the front in a cell."""
    return 1.0 / (vine.front_speed * light_factor(ground, vine, c))


@inner
def thickening(ground: Any, vine: Any, c: Any) -> Any:
    """Logistic rate of density, 1/yr."""
    return math.log(2.0) / vine.cover_doubling_time * light_factor(ground, vine, c)
