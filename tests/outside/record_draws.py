"""Run a busy small park without compilation and list draws that two places in the code share; JSON to stdout.

Started by test_generator with NUMBA_DISABLE_JIT=1. Records are read through numpy's record arrays, which give
their fields as attributes, as compiled code does.
"""

import json
import sys
from collections import defaultdict

import numpy as np

from spreadsim.model import draws

PLACES = defaultdict(set)
LARGEST = [0]


def words_of(number):
    """Plain word of a key or counter."""
    LARGEST[0] = max(LARGEST[0], int(number))
    assert number == int(number) >= 0
    return int(number)


def philox(counter, key):
    """Philox 4x32-10 of whole numbers, without numpy's warnings of overflow."""
    (c0, c1, c2, c3), (k0, k1) = counter, key
    for _ in range(10):
        p0, p1 = 0xD2511F53 * c0, 0xCD9E8D57 * c2
        c0, c1, c2, c3 = (p1 >> 32) ^ c1 ^ k0, p1 & 0xFFFFFFFF, (p0 >> 32) ^ c3 ^ k1, p0 & 0xFFFFFFFF
        k0, k1 = (k0 + 0x9E3779B9) & 0xFFFFFFFF, (k1 + 0xBB67AE85) & 0xFFFFFFFF
    return c0, c1, c2, c3


def pair(key, process, entity, season, number, depth=1):
    """Draw as the generator does, and note who asked."""
    counter = tuple(words_of(word) for word in (entity, season, number, process))
    frame = sys._getframe(depth)
    PLACES[counter].add(f"{frame.f_code.co_filename.rsplit('/', 1)[-1]}:{frame.f_lineno}")
    w = philox(counter, (int(key[0]), int(key[1])))
    return tuple(((((a << 32) | b) >> 12) + 0.5) * 2.0**-52 for a, b in (w[:2], w[2:]))


def uniform(key, process, entity, season, number):
    """Give the first of the pair."""
    return pair(key, process, entity, season, number, 2)[0]


def trait(key, process, entity, number):
    """Give the pair of a lasting trait, which has no season; here keys have two words."""
    return pair(key, process, entity, 0, number, 2)


def poisson(key, entity, season, number, mean):
    """Keyed count; in parts beyond 500, each with a number of its own."""
    if mean <= 0.0:
        return 0
    parts = int(np.ceil(mean / 500.0))
    return sum(
        draws.poisson_quantile(pair(key, draws.CANDIDATES, entity, season, number + 1000 * part, 2)[0], mean / parts)
        for part in range(parts)
    )


draws.pair, draws.trait, draws.uniform, draws.poisson = pair, trait, uniform, poisson

# what follows has to find the recording draws in place
from spreadsim import Crew, FollowUp, Site, Strategy, Task, load_treatment, load_vine  # noqa: E402
from spreadsim.inputs import Weather, treatment_names  # noqa: E402
from spreadsim.model import memory  # noqa: E402
from spreadsim.model.compiled import make_fresh, run  # noqa: E402
from spreadsim.model.pack_plan import pack_plan  # noqa: E402
from spreadsim.model.pack_site import pack_site  # noqa: E402
from spreadsim.model.parameters import pack_parameters  # noqa: E402


def as_records(group):
    """Give structured arrays of a group as record arrays."""
    return type(group)(*(a.view(np.recarray) if a.dtype.names else a for a in group))


def main():
    """Run the park."""
    years, n = 6, 16
    rng = np.random.default_rng(1)
    mat = np.where(rng.random((n, n)) < 0.15, 0.95, 0.0)
    hosts = {
        "x": rng.random(40) * 2 * n,
        "y": rng.random(40) * 2 * n,
        "state": (["fruiting"] + ["climbing"] * 2 + ["bare"]) * 10,
    }
    hosts |= {"known": rng.random(40) < 0.6}
    sources = {"x": [-5.0, 20.0], "y": [10.0, -3.0]}
    site = Site.from_arrays(
        2.0, mat=mat, hosts=hosts, sources=sources, background_seed=2e5, wetness=np.full((n, n), 0.5)
    )
    changes = {"seed.patches_founded": 8.0, "seed.years_seed_to_patch": 2.0, "birds.median_distance": 10.0}
    changes |= {"impact.tree_failure_base": 0.05, "impact.tree_failure_factor": 3.0, "climb.climb_rate": 0.5}
    near = {name: {"value": value, "low": 0.9 * value, "high": 1.1 * value} for name, value in changes.items()}
    vine = load_vine("wintercreeper").replace(near)
    treatments = [load_treatment(name) for name in sorted(treatment_names())]
    tasks = [
        Task("scout", cap=0.3),
        Task("cut-and-treat", cap=0.5, follow_up=FollowUp(every=2)),
        Task("cut", cap=0.5),
        Task("foliar-spray", share=0.3, instead="pull", follow_up=FollowUp(every=2, treatment="spot-spray")),
        Task("pull", share=0.6, follow_up=FollowUp(every=1, clean=1)),
    ]
    crews = [Crew("staff", 20.0)]
    plan = pack_plan(site, vine, Strategy("busy", tasks=tasks), crews, treatments, Weather((4.0, 6.0, 8.0, 5.0)), years)
    vines, rows, _ = pack_parameters(vine, treatments, 1, [0], False)
    ground = pack_site(site)
    memory.make_fresh = lambda state: make_fresh(as_records(state))
    state = memory.new_state(ground, [plan], years, 0, 50000)
    none = np.zeros((0, 0), "i8")
    tally = memory.new_tally(plan, years, 0, np.full(years + 1, -1, "i4"), none, False)
    vines, rows = vines.view(np.recarray), rows.view(np.recarray)
    key = np.array([1, 0], dtype=np.uint64)
    assert run(key, as_records(ground), as_records(plan), as_records(state), vines, rows[0], tally) == 0
    shared = sorted((list(counter), sorted(places)) for counter, places in PLACES.items() if len(places) > 1)
    processes = sorted({counter[3] for counter in PLACES})
    print(json.dumps({"shared": shared[:5], "largest": LARGEST[0], "processes": processes, "draws": len(PLACES)}))


if __name__ == "__main__":
    main()
