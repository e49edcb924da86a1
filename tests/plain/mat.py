"""The mat (ODD page, 7.1): arrivals by repeating "least over neighbours" until nothing changes."""

import math

from .world import EMPTY, FRONT

SIDE, DIAGONAL, KNIGHT = 1.0, math.sqrt(2.0), math.sqrt(5.0)
# Length of a cell along the way to a neighbour, by its distance.
WIDTHS = {SIDE: 1.0, DIAGONAL: math.sqrt(2.0), KNIGHT: 3.0 / math.sqrt(5.0)}

# Rows and columns to the neighbour and its distance in cells: the eight row by row from the north west,
# then the knight's moves row by row.
NEIGHBOURS = (
    (-1, -1, DIAGONAL),
    (-1, 0, SIDE),
    (-1, 1, DIAGONAL),
    (0, -1, SIDE),
    (0, 1, SIDE),
    (1, -1, DIAGONAL),
    (1, 0, SIDE),
    (1, 1, DIAGONAL),
    (-2, -1, KNIGHT),
    (-2, 1, KNIGHT),
    (-1, -2, KNIGHT),
    (-1, 2, KNIGHT),
    (1, -2, KNIGHT),
    (1, 2, KNIGHT),
    (2, -1, KNIGHT),
    (2, 1, KNIGHT),
)


def is_barrier(world, row, column):
    """Whether the cell there is a barrier; both cells are on the site whenever this is asked."""
    return world.cell_at(row, column).barrier


def closed(world, cell, down, right):
    """Whether barriers close the way from the cell to its neighbour `down` rows and `right` columns off."""
    row, column = cell.row, cell.column
    if abs(down) == 1 and abs(right) == 1:
        return is_barrier(world, row + down, column) and is_barrier(world, row, column + right)
    if abs(down) == 2:
        step = down // 2
        return is_barrier(world, row + step, column) or is_barrier(world, row + step, column + right)
    if abs(right) == 2:
        step = right // 2
        return is_barrier(world, row, column + step) or is_barrier(world, row + down, column + step)
    return False


def open_neighbours(world, cell):
    """Neighbours from which the mat can come, in neighbour order, with their distances in cells."""
    if cell.number in world.open_neighbours:  # barriers do not change
        return world.open_neighbours[cell.number]
    found = []
    for down, right, d in NEIGHBOURS:
        neighbour = world.cell_at(cell.row + down, cell.column + right)
        if neighbour is not None and not neighbour.barrier and not closed(world, cell, down, right):
            found.append((neighbour, d))
    world.open_neighbours[cell.number] = found
    return found


def arrival_from(world, cell, neighbour, push, d):
    """Time at which the front from this neighbour, pushing from `push` on, is at the cell's centre."""
    h = world.h
    both = cell.slowness + neighbour.slowness
    cleared = max(cell.cleared, cleared_on_the_way(world, cell, neighbour))
    return max(push + d * h * both / 2.0, cleared + (d - 0.5) * h * both / 2.0)


def cleared_on_the_way(world, cell, neighbour):
    """Last clearing of the ground that the move passes."""
    row, column = cell.row, cell.column
    down, right = neighbour.row - row, neighbour.column - column
    if abs(down) == 1 and abs(right) == 1:
        beside = [world.cell_at(row + down, column), world.cell_at(row, column + right)]
        return min(one.cleared for one in beside if not one.barrier)
    if abs(down) == 2:
        step = down // 2
        return max(world.cell_at(row + step, column).cleared, world.cell_at(row + step, column + right).cleared)
    if abs(right) == 2:
        step = right // 2
        return max(world.cell_at(row, column + step).cleared, world.cell_at(row + down, column + step).cleared)
    return -math.inf


def arrival_from_beyond(world, cell):
    """Time at which the front from the mat across the site's edge is at the cell's centre."""
    if not cell.mat_beyond:
        return math.inf
    half = world.h * cell.slowness / 2.0
    return max(half, cell.cleared + half)


def entry(world, cell, arrival):
    """Time at which the front enters a cell."""
    return max(arrival - world.h * cell.slowness / 2.0, cell.cleared)


def expected_arrivals(world, end):
    """Arrival by cell number of all empty cells that the mat enters by `end`."""
    arrivals = {}
    changed = True
    while changed:
        changed = False
        for cell in world.cells:
            if cell.infested or cell.barrier:
                continue
            least = arrival_from_beyond(world, cell)
            for neighbour, d in open_neighbours(world, cell):
                if neighbour.infested:
                    least = min(least, arrival_from(world, cell, neighbour, neighbour.push, d))
                elif neighbour.number in arrivals:
                    push = arrivals[neighbour.number]
                    least = min(least, arrival_from(world, cell, neighbour, push, d))
            if entry(world, cell, least) <= end and least != arrivals.get(cell.number):
                arrivals[cell.number] = least
                changed = True
    return arrivals


def giver(world, cell, arrival):
    """Infested neighbour that gives this arrival, the first in neighbour order; else None: from across the edge."""
    for neighbour, d in open_neighbours(world, cell):
        if neighbour.infested and arrival_from(world, cell, neighbour, neighbour.push, d) == arrival:
            return neighbour
    if arrival_from_beyond(world, cell) == arrival:
        return None
    raise AssertionError("an arrival without a neighbour")


def advance(world, end):
    """Let the mat advance to the season's end."""
    arrivals = expected_arrivals(world, end)
    entered = [(entry(world, world.cells[number], arrival), number) for number, arrival in arrivals.items()]
    for e, number in sorted(entered):
        cell = world.cells[number]
        neighbour = giver(world, cell, arrivals[number])
        cell.kind = FRONT
        cell.arrival = arrivals[number]
        cell.push = arrivals[number]
        cell.density = world.p["mat.density_on_arrival"]
        cell.changed = e
        cell.known = True if neighbour is None else neighbour.known
        cell.origin = cell.number if neighbour is None else neighbour.origin


def share(world, cell, t):
    """Infested share of a cell's ground at time t."""
    if cell.kind == EMPTY:
        return 0.0
    h = world.h
    if cell.kind == FRONT:
        return min(1.0, max(0.0, 0.5 + (t - cell.arrival) / (h * cell.slowness)))
    radius = math.sqrt(world.p["mat.founder_area"] / math.pi) + max(0.0, t - cell.arrival) / cell.slowness
    return min(1.0, math.pi * (radius * radius) / (h * h))


def odds(world, cell, t):
    """Odds against full density at time t."""
    t0 = cell.changed
    released = max(0.0, min(t, cell.disturbed_until) - t0)
    tau = max(0.0, t - t0) + (world.p["disturbance.release_factor"] - 1.0) * released
    return cell.odds * math.exp(-cell.thickening * tau)


def density(world, cell, t):
    """Density behind the front at time t (1: full)."""
    if cell.kind == EMPTY:
        return 0.0
    return 1.0 / (1.0 + odds(world, cell, t))


def bring_up_to_date(world, t):
    """A year's end: density changes anew from here."""
    for cell in world.cells:
        if cell.infested and cell.changed < t:
            cell.odds = odds(world, cell, t)
            cell.changed = t


def cover(world, cell, t):
    """Living cover of a cell at time t."""
    return world.p["mat.max_cover"] * share(world, cell, t) * density(world, cell, t)
