"""Parameters of one replicate (ODD page, section 5)."""

import math
import zlib

from .draws import PARAMETER

SEED_CHAIN = (
    "seed.fruits_per_host",
    "seed.seeds_per_fruit",
    "seed.share_taken_by_birds",
    "seed.germination",
    "seed.first_winter_survival",
    "seed.seedling_to_rooted_patch",
)
SOLVED = ("seed.microsite_share", "birds.kernel_u")
MOST_TRIES = 10_000


def triangular(low, mode, high, u):
    """Value below which a share u of the triangular distribution lies."""
    if u < (mode - low) / (high - low):
        return low + math.sqrt(u * (high - low) * (mode - low))
    return high - math.sqrt((1.0 - u) * (high - low) * (high - mode))


def has_range(parameter):
    """Whether it is drawn at all."""
    return parameter.low is not None and parameter.high is not None and parameter.low < parameter.high


def draw(name, parameter, number, draws, fixed):
    """One parameter: its default, or a triangular draw, on the log scale where the profile says so."""
    if fixed or not has_range(parameter):
        return parameter.value
    u = draws.first(PARAMETER, zlib.crc32(name.encode("utf-8")), 0, number)
    low, default, high = parameter.low, parameter.value, parameter.high
    if parameter.scale != "log":
        return triangular(low, default, high, u)
    if low == 0.0:
        low = default * default / high
    return math.exp(triangular(math.log(low), math.log(default), math.log(high), u))


def draw_seed_chain(vine, draws, fixed, patches_founded):
    """All links together, again and again until microsite_share is at most 1."""
    for attempt in range(MOST_TRIES):
        links = {name: draw(name, vine[name], attempt, draws, fixed) for name in SEED_CHAIN}
        product = links[SEED_CHAIN[0]]
        for name in SEED_CHAIN[1:]:
            product = product * links[name]
        microsite_share = patches_founded / product
        if microsite_share <= 1.0:
            return links, microsite_share
    raise ValueError(f"patches_founded {patches_founded} is more than the links of the seed chain allow")


def draw_vine(vine, draws, fixed):
    """All parameters of the vine, by name, solved ones included."""
    values = {}
    for name in vine.parameters:
        if name not in SOLVED and name not in SEED_CHAIN:
            values[name] = draw(name, vine[name], 0, draws, fixed)
    links, microsite_share = draw_seed_chain(vine, draws, fixed, values["seed.patches_founded"])
    values.update(links)
    values["seed.microsite_share"] = microsite_share
    median = values["birds.median_distance"]
    values["birds.kernel_u"] = median * median / (2.0 ** (1.0 / values["birds.kernel_p"]) - 1.0)
    return values


def draw_treatment(treatment, draws, fixed):
    """All numbers that a treatment has, by role; its drawn name is "treatment.role"."""
    return {
        role: draw(f"{treatment.name}.{role}", parameter, 0, draws, fixed)
        for role, parameter in treatment.parameters.items()
    }


def numbers_at_work(treatment, drawn):
    """Give the numbers as work takes them: kills that are absent are as others; those that can't be are 0."""
    numbers = dict(drawn)
    numbers.setdefault("stem_kill_volunteers", drawn.get("stem_kill", 0.0))
    numbers.setdefault("seedling_kill", drawn.get("mat_kill", 0.0))
    if "seedlings" not in treatment.acts_on:
        numbers["seedling_kill"] = 0.0
    return numbers
