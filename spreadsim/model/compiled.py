"""The compiled side, imported so that what numba compiles is kept in our own cache folder."""

from spreadsim.model.cache import compiled_into_cache

with compiled_into_cache():
    from spreadsim.model.draws import PARAMETER, pair, philox4x32, poisson_quantile, uniform
    from spreadsim.model.kernels import layout
    from spreadsim.model.kernels.amend import amend
    from spreadsim.model.kernels.handing_over import hand_over
    from spreadsim.model.kernels.layout import TREATMENT, TREATMENT_NUMBERS, VINE, VINE_NUMBERS
    from spreadsim.model.kernels.season import make_fresh, put_back, run

__all__ = [
    "PARAMETER",
    "TREATMENT",
    "TREATMENT_NUMBERS",
    "VINE",
    "VINE_NUMBERS",
    "amend",
    "hand_over",
    "layout",
    "make_fresh",
    "pair",
    "philox4x32",
    "poisson_quantile",
    "put_back",
    "run",
    "uniform",
]
