"""What several tests of the reference simulator use.

Statistical tolerances are 4.9 standard errors (a false alarm of about 1e-6).
"""

from . import books, example, season, work
from .draws import Draws
from .example import Crew
from .parameters import draw_treatment, draw_vine, numbers_at_work
from .season import run

ERRORS = 4.9
FIT_DAYS = (4.0, 6.0, 8.0, 5.0)
STATES = ("mat_area", "infested_area", "climbed_hosts", "fruiting_hosts", "fallen_hosts", "native_cover")
MANY = Crew("staff", (100.0,) * 4)


def world_of(site, vine=None, seed=1, replicate=0):
    """A world at time 0 with every parameter at its default."""
    draws = Draws(seed, replicate)
    return season.start_world(site, draw_vine(vine or example.vine(), draws, True), draws)


def run_park(strategy, years=4, replicate=0, treatments=None, vine=None, site=None, crews=None, **options):
    """Run the small park."""
    return run(
        site or example.small_park(),
        vine or example.vine(),
        example.treatments() if treatments is None else treatments,
        strategy,
        example.crews() if crews is None else crews,
        example.weather(FIT_DAYS),
        years,
        7,
        replicate,
        **options,
    )


def fertile_vine(**changes):
    """A vine whose seed founds many patches soon."""
    values = {
        "seed__patches_founded": 3.0,
        "seed__years_seed_to_patch": 0.5,
        "birds__median_distance": 8.0,
        "seed__fruits_per_host": 5000.0,
    }
    return example.vine(**{**values, **changes})


# --- draws ----------------------------------------------------------------------------------------------


def season_of(world, strategy, crews, season_index=0, treatments=None, fit_days=FIT_DAYS):
    """Books of one season at default numbers."""
    rows = treatments or example.treatments()
    numbers = {n: numbers_at_work(t, draw_treatment(t, world.draws, True)) for n, t in rows.items()}
    plan = books.Plan(strategy, tuple(crews), rows, numbers, example.weather(fit_days))
    return plan, work.work(world, plan, 0, season_index, 0.0)
