"""What no range, however widened, may leave: shares stay shares, and what is divided by stays above 0."""

from __future__ import annotations

from collections.abc import Mapping

from spreadsim.inputs.checks import Check, number_allowed
from spreadsim.inputs.parameter import Parameter

# Vine parameters and treatment roles that are shares or chances.
SHARES = frozenset(
    {
        "mat.max_cover",
        "mat.shade_factor",
        "mat.density_on_arrival",
        "climb.light_to_fruit",
        "climb.share_of_mature_climbers_fruiting",
        "seed.share_taken_by_birds",
        "seed.germination",
        "seed.first_winter_survival",
        "seed.seedling_to_rooted_patch",
        "birds.share_far",
        "impact.native_cover_under_full_mat",
        "impact.tree_seedlings_under_full_mat",
        "impact.native_recovery_ceiling",
        "impact.tree_failure_base",
        "stem_kill",
        "stem_kill_volunteers",
        "base_kill",
        "mat_kill",
        "seedling_kill",
        "hours_floor",
        "reroots",
        "native_loss_dormant",
        "native_loss_growing",
        "crop_prevented_ripe",
        "cryptic_share",
        "incidental_finds",
        "misidentified",
        "plant_survival",
        "consent",
    }
)

# What the model divides by, or takes the logarithm of.
ABOVE_ZERO = frozenset(
    {
        "climb.vertical_speed",
        "mat.shade_factor",
        "mat.front_speed",
        "mat.cover_doubling_time",
        "mat.max_cover",
        "mat.rooted_pieces",
        "mat.density_on_arrival",
        "mat.founder_area",
        "climb.wait_shape",
        "birds.kernel_p",
        "birds.median_distance",
        "impact.native_recovery_time",
        "search_time_constant_mat",
        "search_time_constant_climbing",
        "search_time_constant_seedling",
        "leaf_off_boost",
        "clumping_factor",
    }
)


def check_limits(parameters: Mapping[str, Parameter], check: Check) -> None:
    """Note every value, low and high that is beyond what its parameter can mean.

    Parameters
    ----------
    parameters : mapping of str to Parameter
        A vine's or a treatment's.
    check : Check
        Where to note.
    """
    for name, parameter in parameters.items():
        top = 1.0 if name in SHARES else float("inf")
        for part, number in (("value", parameter.value), ("low", parameter.low), ("high", parameter.high)):
            if not isinstance(number, float):
                continue
            above = name in ABOVE_ZERO
            if not 0 <= number <= top or (above and number == 0):
                check.add(f"{name}.{part}", number, number_allowed(0, top, above))
