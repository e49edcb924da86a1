"""Planting and asking owners (ODD page, 7.8)."""

from .books import CLEAN_GROUND
from .draws import CONSENT, FIRST_SOURCE
from .orders import in_units


def places_to_plant(world, season, task, blocked_units):
    """Cells that were worked, are empty, bare, not planted and below native cover 1."""
    return [
        cell
        for cell in world.cells
        if cell.worked_in_season >= 0
        and not cell.infested
        and cell.covered_until <= season.now
        and not cell.planted
        and cell.native < 1.0
        and cell.unit not in blocked_units
        and in_units(world, task, cell)
        and (task.not_until != CLEAN_GROUND or cell.clean_visits >= 2)
    ]


def plant(cell, numbers):
    """Native cover rises by a share of what is missing."""
    cell.native = cell.native + numbers.get("plant_survival", 0.0) * (1.0 - cell.native)
    cell.planted = True


def sources_to_ask(world, season):
    """Standing sources whose owner has not consented and was not asked this year."""
    return [s for s in world.sources if not s.consented and s.asked_in_year != season.year]


def ask(world, source, numbers, season):
    """Ask an owner; who consents has the shrubs gone after a while."""
    source.asked_in_year = season.year
    u = world.draws.first(CONSENT, FIRST_SOURCE + source.number, 4 * season.year, 0)
    if u < numbers.get("consent", 0.0):
        source.consented = True
        source.gone = season.now + numbers.get("consent_delay", 0.0)
