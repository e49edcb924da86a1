"""Storms, gaps and removal of shrubs (ODD page, 7.10)."""

import math

from .draws import EVENT, EVENT_FELLS, FIRST_EVENT, NUMBER_OF_CANDIDATES
from .mat import odds
from .world import FALLEN


def places(world, event, number, year, season):
    """Where the event befalls the ground this season: centres, m from the south-west corner."""
    if event.year is not None:
        return [(event.x, event.y)] if event.year == year + 1 else []
    entity = FIRST_EVENT + number
    found = []
    for i in range(world.draws.poisson(event.per_year, NUMBER_OF_CANDIDATES, entity, season, 0)):
        u1, u2 = world.draws.pair(EVENT, entity, season, i)
        found.append((u1 * world.width, u2 * world.height))
    return found


def within(cell, x, y, radius):
    """Whether a cell's centre lies in the circle."""
    return math.sqrt((cell.x - x) ** 2 + (cell.y - y) ** 2) <= radius


def befall(world, event, x, y, season, now):
    """What one event does at its place."""
    for cell in world.cells:
        if cell.barrier or not within(cell, x, y, event.radius):
            continue
        if cell.infested and cell.changed < now:
            cell.odds = odds(world, cell, now)
            cell.changed = now
        cell.disturbed_until = max(cell.disturbed_until, now + world.p["disturbance.release_years"])
    for host in world.hosts:
        if host.kind != "tree" or host.cell.barrier or not within(host.cell, x, y, event.radius):
            continue
        if world.draws.first(EVENT_FELLS, host.number, season, 0) < event.trees_fall:
            host.state = FALLEN


def events(world, planned_and_random, year, season_index, season_name, now):
    """All events of a season, in the order of the list."""
    season = 4 * year + season_index
    for number, event in enumerate(planned_and_random):
        if event.season != season_name:
            continue
        for x, y in places(world, event, number, year, season):
            befall(world, event, x, y, season, now)
