"""Falling trees (ODD page, 7.6)."""

import math

from .draws import FAIL, FALLING, FALLING_TREES, NUMBER_OF_CANDIDATES
from .world import CLIMBING, FALLEN


def fail(world, season):
    """A year's end; `season` is the number of its autumn."""
    p = world.p
    base = p["impact.tree_failure_base"]
    trees = [host for host in world.hosts if host.kind == "tree"]
    count = world.draws.poisson(len(trees) * base, NUMBER_OF_CANDIDATES, FALLING, season, 0)
    for i in range(count):
        chosen = math.floor(world.draws.first(FALLING_TREES, i, season, 0) * len(trees))
        trees[chosen].state = FALLEN
    more = 1.0 - math.exp(-base * (p["impact.tree_failure_factor"] - 1.0))
    for tree in trees:
        if tree.state == CLIMBING and world.draws.first(FAIL, tree.number, season, 0) < more:
            tree.state = FALLEN
