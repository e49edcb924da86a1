"""Seedlings (ODD page, 7.4)."""

import math

from .draws import LIFE
from .world import FOUNDER, Seedling


def shed(world, entity, season, number, cell, by_birds):
    """A kept candidate: how long it lies, when it germinates and when it roots."""
    p = world.p
    dormant = -p["seed.seed_bank_life"] * math.log(world.draws.first(LIFE, entity, season, number))
    germinates = season + 1 + math.floor(4.0 * dormant)
    roots = season + max(1, math.floor(4.0 * (dormant + p["seed.years_seed_to_patch"]) + 0.5))
    world.seedlings.append(Seedling(entity, season, number, cell, by_birds, germinates, roots))


def germinate(world, season, now):
    """Seedlings that germinate this season, at its start: those under a cover die."""
    for seedling in world.seedlings:
        if seedling.germinates == season and seedling.cell.covered_until > now:
            seedling.alive = False


def root(world, season, g, record):
    """Seedlings due this season root, bird-borne ones before those from beneath."""
    due = [s for s in world.seedlings if s.alive and s.roots == season]
    for seedling in sorted(due, key=lambda s: not s.by_birds):
        seedling.alive = False
        cell = seedling.cell
        if cell.infested or cell.covered_until > g:
            continue
        cell.kind = FOUNDER
        cell.arrival = g
        cell.push = g
        cell.density = world.p["mat.density_on_arrival"]
        cell.changed = g
        cell.known = False
        cell.origin = cell.number
        if seedling.by_birds:
            record.new_patches += 1
    world.seedlings = [s for s in world.seedlings if s.alive]
