"""The keyed generator: known answers, uniform and independent draws, no two decisions by one draw."""

import json
import os
import subprocess
import sys
import zlib
from pathlib import Path

import numpy as np
import pytest
from scipy import stats

from spreadsim import load_treatment, load_vine
from spreadsim.inputs import treatment_names
from spreadsim.model.compiled import pair, philox4x32, uniform

from . import drivers
from .helpers import ERRORS, LEAST_P, SURE, key_of, make_world, open_site, share_z

ONES = 0xFFFFFFFF
PI = (0x243F6A88, 0x85A308D3, 0x13198A2E, 0x03707344, 0xA4093822, 0x299F31D0)
KNOWN = [
    ((0,) * 6, (0x6627E8D5, 0xE169C58D, 0xBC57AC4C, 0x9B00DBD8)),
    ((ONES,) * 6, (0x408F276D, 0x41C83B0E, 0xA20BC7C6, 0x6D5451FD)),
    (PI, (0xD16CFE09, 0x94FDCCEB, 0x5001E420, 0x24126EA1)),
]


@pytest.mark.parametrize(("words", "answer"), KNOWN)
def test_known_answers(words, answer):
    """Source: philox4x32-10 known answers (Salmon and others 2011, SC11), read in public files."""
    assert philox4x32(*words) == answer


def test_the_first_block_as_a_uniform():
    """Source: 0x6627e8d5 / 2^32 = 0.3990464706439525 (derived): the first word leads. Sees words mixed up."""
    first, second = pair(key_of(0), 0, 0, 0, 0)
    assert 0.0 <= first - 0.3990464706439525 < 2.0**-32
    assert 0.0 <= second - 0xBC57AC4C / 2.0**32 < 2.0**-32
    # the counter's words are (entity, season, number, process), the key's (seed, replicate)
    entity, season, number, process, seed, replicate = PI
    first = pair(np.array([seed, replicate], dtype=np.uint64), process, entity, season, number)[0]
    assert 0.0 <= first - 0xD16CFE09 / 2.0**32 < 2.0**-32


def along(name, n, **at):
    """Pairs of uniforms, (n, 2), as one word of counter or key runs from 0 and the others stay."""
    words = {"seed": 1, "replicate": 2, "process": 5, "entity": 3, "season": 4, "number": 0} | at
    out = np.zeros((n, 2))
    for i in range(n):
        words[name] = i
        key = np.array([words["seed"], words["replicate"]], dtype=np.uint64)
        out[i] = pair(key, words["process"], words["entity"], words["season"], words["number"])
    return out


@pytest.mark.parametrize("name", ["seed", "replicate", "process", "entity", "season", "number"])
def test_neighbouring_keys_and_counters_give_independent_uniforms(name):
    """Source: uniform law and independence; chi-square (100 bins, and 12 x 12 for neighbours), correlations.

    40,000 draws, false alarm 1e-6 each. Sees a bin 25 % off, a correlation of 2.5 %, a lattice of neighbours.
    """
    n = 40000
    values = along(name, n)
    assert values.min() > 0.0
    assert values.max() < 1.0
    first, second = values.T
    neighbours = [
        (first[:-1], first[1:]),
        (second[:-1], second[1:]),
        (first, second),
        (first[:-1], second[1:]),
    ]
    for u in (first, second):
        assert stats.chisquare(np.histogram(u, 100, (0.0, 1.0))[0]).pvalue > LEAST_P
    for a, b in neighbours:
        assert abs(np.corrcoef(a, b)[0, 1]) < ERRORS / np.sqrt(n)
        table = np.histogram2d(a, b, 12, ((0.0, 1.0), (0.0, 1.0)))[0]
        assert stats.chisquare(table.ravel()).pvalue > LEAST_P
    # the last of 52 bits is as good as the first
    assert share_z((np.floor(first * 2.0**52).astype("i8") & 1).sum(), n, 0.5) < ERRORS


def test_parameters_have_keys_of_their_own():
    """Source: arithmetic. CRC-32 of no two parameter names agree, in all profiles that are shipped."""
    names = set()
    for vine in ("wintercreeper", "english-ivy"):
        names |= set(load_vine(vine))
    names |= {f"{name}.{role}" for name in treatment_names() for role in load_treatment(name).parameters}
    assert len({zlib.crc32(name.encode()) for name in names}) == len(names) > 50


def test_no_two_decisions_share_a_draw():
    """Source: model.md, draws are keyed by what they decide.

    A busy small park is run uncompiled, draws recorded. Sees one block of the generator used in two places of
    the code, and words that leave 32 bits.
    """
    script = Path(__file__).with_name("record_draws.py")
    environment = os.environ | {"NUMBA_DISABLE_JIT": "1", "PYTHONPATH": str(script.parents[2])}
    done = subprocess.run([sys.executable, str(script)], capture_output=True, text=True, env=environment, check=False)
    assert done.returncode == 0, done.stderr[-2000:]
    found = json.loads(done.stdout)
    assert found["shared"] == []
    assert found["largest"] < 2**32
    # the park was busy enough: most kinds of decision occurred, many times
    assert len(found["processes"]) >= 20
    assert found["draws"] > 5000


def test_a_birds_seedling_and_one_beneath_have_luck_of_their_own():
    """Source: independence.

    Seedling i that a bird dropped and seedling i beneath the same host, killed or not. 2,000 seasons at a
    kill of one half: their fates agree in half of them, 4.9 standard errors are 5 points.
    """
    agree, seasons = 0, 2000
    world = make_world(open_site(1, 1.0), years=400, **SURE)
    for seed in range(seasons):
        world.state.count[:] = 0
        world.state.care["seedling"] = -1
        key = key_of(seed)
        numbers = np.array([5, 65536 + 5])
        drivers.enter_seedlings(key, world.plan, world.state, world.vines, 0, 3, numbers, 0)
        drivers.kill_seedlings(key, world.state, 0, 6, 0.5)
        alive = world.state.seedlings["alive"][:2]
        agree += int(alive[0] == alive[1])
    assert share_z(agree, seasons, 0.5) < ERRORS


def test_the_first_of_a_pair_is_the_uniform():
    """Source: ODD, section 4: U is the first of the pair."""
    assert uniform(key_of(3, 4), 5, 6, 7, 8) == pair(key_of(3, 4), 5, 6, 7, 8)[0]
