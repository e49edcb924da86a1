"""Parameters of each replicate: drawn from their ranges, keyed by name, or fixed at the defaults."""

import math
import zlib
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Any

import numpy as np

from spreadsim.errors import InputError
from spreadsim.inputs import Parameter, Treatment, Vine
from spreadsim.model.compiled import PARAMETER, TREATMENT, TREATMENT_NUMBERS, VINE, VINE_NUMBERS, uniform

# the links from seed to patch, drawn together until the share of ground that they leave open is at most 1
LINKS = (
    "seed.fruits_per_host",
    "seed.seeds_per_fruit",
    "seed.share_taken_by_birds",
    "seed.germination",
    "seed.first_winter_survival",
    "seed.seedling_to_rooted_patch",
)
SOLVED = ("seed.microsite_share", "birds.kernel_u")
MOST_ATTEMPTS = 1000
STAND_INS = {"stem_kill_volunteers": "stem_kill", "seedling_kill": "mat_kill"}
Drawn = dict[str, float]
NOTHING: Mapping[str, Any] = MappingProxyType({})


def triangular(u: float, low: float, mode: float, high: float) -> float:
    """Quantile of the triangular distribution."""
    width = high - low
    if u < (mode - low) / width:
        return low + math.sqrt(u * width * (mode - low))
    return high - math.sqrt((1.0 - u) * width * (high - mode))


def quantile(parameter: Parameter, u: float) -> float:
    """Value of a parameter at quantile u of its range: triangular, on the log scale where the profile says so.

    A range from 0 on the log scale starts as far below the default as its high is above.
    """
    if not parameter.drawn:
        return parameter.number
    low, mode, high = float(parameter.low or 0.0), parameter.number, float(parameter.high or 0.0)
    if parameter.scale == "linear":
        return triangular(u, low, mode, high)
    if low <= 0.0:
        low = mode * mode / high
    return math.exp(triangular(u, math.log(low), math.log(mode), math.log(high)))


def draw(parameter: Parameter, name: str, key: Any, attempt: int, fixed: bool) -> float:
    """One parameter of one replicate; its luck depends on its name alone."""
    if fixed or not parameter.drawn:
        return parameter.number
    return quantile(parameter, float(uniform(key, PARAMETER, zlib.crc32(name.encode()), 0, attempt)))


def draw_vine(vine: Vine, key: Any, fixed: bool, given: Mapping[str, float] = NOTHING) -> Drawn:
    """All numbers of the vine for one replicate, the solved ones included; given ones take no draw.

    Raises
    ------
    InputError
        If no draw of the links from seed to patch can reach the founding rate.
    """

    def one(name: str, attempt: int = 0) -> float:
        return given[name] if name in given else draw(vine[name], name, key, attempt, fixed)

    values = {name: one(name) for name in VINE_NUMBERS if name not in LINKS + SOLVED}
    founded, median = one("seed.patches_founded"), one("birds.median_distance")
    values["seed.patches_founded"] = founded
    values["birds.median_distance"] = median
    values["birds.kernel_u"] = median * median / (2.0 ** (1.0 / values["birds.kernel_p"]) - 1.0)
    for attempt in range(1 if fixed or given.keys() >= set(LINKS) else MOST_ATTEMPTS):
        links = {name: one(name, attempt) for name in LINKS}
        product = 1.0
        for link in links.values():
            product *= link
        if founded <= product:
            return values | links | {"seed.microsite_share": founded / product if product > 0.0 else 0.0}
    raise InputError(
        f"vine {vine.name}: seed.patches_founded: found {founded:g}, but the links from seed to patch "
        f"allow at most {product:g}; lower it, or raise {', '.join(LINKS)}"
    )


def draw_treatment(treatment: Treatment, key: Any, fixed: bool, given: Mapping[str, float] = NOTHING) -> Drawn:
    """All numbers of a treatment for one replicate; given ones, named `treatment.role`, take no draw."""
    values = {}
    for role in TREATMENT_NUMBERS:
        if role in treatment.parameters:
            name = f"{treatment.name}.{role}"
            values[role] = given[name] if name in given else draw(treatment[role], name, key, 0, fixed)
        else:
            values[role] = values.get(STAND_INS.get(role, ""), 0.0)
    if "seedlings" not in treatment.acts_on:
        values["seedling_kill"] = 0.0
    return values


def pack_parameters(
    vine: Vine,
    treatments: Sequence[Treatment],
    seed: int,
    replicates: Sequence[int],
    fixed: bool,
    given: Mapping[str, Any] = NOTHING,
) -> tuple[Any, Any, dict[str, Any]]:
    """Draw and pack the parameters of some replicates.

    Parameters
    ----------
    given
        Values by "process.name" or "treatment.role", each (replicates,), that take the place of draws. A parameter's
        luck depends on its name alone, so all others stay as they are.

    Returns
    -------
    vines
        VINE records (replicates,).
    rows
        TREATMENT records (replicates, treatments).
    columns
        Values by "process.name" or "treatment.role", each (replicates,).
    """
    vines = np.zeros(len(replicates), VINE)
    rows = np.zeros((len(replicates), len(treatments)), TREATMENT)
    columns: dict[str, Any] = {}

    def note(name: str, i: int, value: float) -> None:
        columns.setdefault(name, np.zeros(len(replicates)))[i] = value

    for i, replicate in enumerate(replicates):
        key = np.array([seed, replicate], dtype=np.uint64)
        own = {name: float(column[i]) for name, column in given.items()}
        drawn = draw_vine(vine, key, fixed, own)
        for name in VINE_NUMBERS:
            vines[i][name.split(".")[1]] = drawn[name]
        for name, value in drawn.items():
            note(name, i, value)
        for k, treatment in enumerate(treatments):
            values = draw_treatment(treatment, key, fixed, own)
            for role, value in values.items():
                rows[i, k][role] = value
            for role, parameter in treatment.parameters.items():
                name = f"{treatment.name}.{role}"
                unused = own[name] if name in own else draw(parameter, name, key, 0, fixed)
                note(name, i, values.get(role, unused))
    return vines, rows, columns


def describe(vine: Vine, treatments: Sequence[Treatment], names: Sequence[str]) -> Mapping[str, dict[str, str]]:
    """Attributes of the drawn parameters: units, long name, confidence, source."""
    known = dict(vine.parameters)
    for treatment in treatments:
        known |= {f"{treatment.name}.{role}": parameter for role, parameter in treatment.parameters.items()}
    return {
        name: {
            "units": known[name].unit,
            "long_name": known[name].note or name,
            "confidence": known[name].confidence,
            "source": known[name].source,
        }
        for name in names
    }
