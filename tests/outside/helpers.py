"""Sites, worlds and bounds that several outside checks use.

Statistical checks have fixed seeds and fail beyond 4.9 standard errors or below a p-value of 1e-6: one false
alarm in about a million for a seed picked blindly.
"""

import math
from typing import NamedTuple

import numpy as np

from spreadsim import Site, Strategy, Weather, load_treatment, load_vine
from spreadsim.model.memory import new_state, new_tally
from spreadsim.model.pack_plan import pack_plan
from spreadsim.model.pack_site import pack_site
from spreadsim.model.parameters import pack_parameters

ERRORS = 4.9
LEAST_P = 1e-6
FIT_DAYS = (4.0, 6.0, 8.0, 5.0)
MAX_COVER = 0.95
# landed seeds are all kept by these: no shade, perches or release, every link from seed to patch sure
SURE = {
    "shade_factor": 1.0,
    "release_factor": 1.0,
    "perch_bias_open": 1.0,
    "perch_bias_forest": 1.0,
    "share_far": 0.0,
    "microsite_share": 1.0,
    "germination": 1.0,
    "first_winter_survival": 1.0,
    "seedling_to_rooted_patch": 1.0,
    "seed_bank_life": 0.0,
    "years_seed_to_patch": 1.0,
}


class World(NamedTuple):
    """Packed arrays of one run."""

    ground: object
    plan: object
    state: object
    vines: object
    rows: object
    tally: object


def make_world(site, vine=None, *, years=60, treatment="scout", seedlings=4096, **numbers):
    """Pack a site without a strategy, parameters at their defaults; `numbers` overwrite the vine's."""
    vine = vine or load_vine("wintercreeper")
    treatments = sorted({load_treatment("scout"), load_treatment(treatment)}, key=lambda one: one.name != treatment)
    plan = pack_plan(site, vine, Strategy("no action"), (), treatments, Weather(FIT_DAYS), years)
    vines, rows, _ = pack_parameters(vine, treatments, 1, [0], True)
    for name, value in numbers.items():
        vines[name] = value
    ground = pack_site(site)
    state = new_state(ground, [plan], years, 0, seedlings)
    slots = np.full(years + 1, -1, "i4")
    none = np.zeros((0, 0), "i8")
    return World(ground, plan, state, vines, rows, new_tally(plan, years, 0, slots, none, False))


def key_of(seed, replicate=0):
    """Key of the generator."""
    return np.array([seed, replicate], dtype=np.uint64)


def centred_z(estimate, truth, standard_error):
    """Distance from the truth in standard errors."""
    return abs(estimate - truth) / standard_error


def share_z(count, n, p):
    """Distance of a count of n independent trials from its expectation, in standard errors."""
    return abs(count - n * p) / math.sqrt(n * p * (1.0 - p))


def disc(n, cell_size, radius, centre, fine=40):
    """Shares of the cells of an n x n grid under a disc about `centre` (x, y, m from the south west)."""
    steps = (np.arange(n * fine) + 0.5) * cell_size / fine
    inside = (steps[::-1, None] - centre[1]) ** 2 + (steps[None, :] - centre[0]) ** 2 < radius**2
    return inside.reshape(n, fine, n, fine).mean(axis=(1, 3))


def mapped(shares):
    """Cover to map for infested shares."""
    return MAX_COVER * np.asarray(shares)


def open_site(n, cell_size, **layers):
    """Make an n x n site; free of everything unless layers say so."""
    layers = {"mat": np.zeros((n, n))} | layers
    return Site.from_arrays(cell_size, **layers)
