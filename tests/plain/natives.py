"""Native cover (ODD page, 7.5 and section 5)."""

import math

from .mat import cover


def target(world, cell, t):
    """Cover that natives can have under this much mat."""
    p = world.p
    under_full_mat = p["impact.native_cover_under_full_mat"]
    return 1.0 - (1.0 - under_full_mat) * cover(world, cell, t) / p["mat.max_cover"]


def start_natives(world):
    """Native cover as the mapped mat leaves it."""
    for cell in world.cells:
        cell.native = target(world, cell, 0.0)


def change_natives(world, t):
    """A year's end. A cell that never had mat or harm has target 1 and stays at 1."""
    p = world.p
    pace = 1.0 - math.exp(-1.0 / p["impact.native_recovery_time"])
    for cell in world.cells:
        highest = target(world, cell, t)
        if cell.native > highest:
            cell.native = highest
        else:
            goal = min(highest, max(cell.native, p["impact.native_recovery_ceiling"]))
            cell.native = cell.native + (goal - cell.native) * pace
