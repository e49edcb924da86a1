"""What the kernels work on: records per cell, host, task..., and the groups in which they are handed on.

One record holds all that is known of a cell or host, so that a visit costs one or two cache lines.
"""

import math
from typing import Any, NamedTuple

import numpy as np

EMPTY, FRONT, FOUNDER = 0, 1, 2
BARE, CLIMBING, CUT_BASE, FALLEN = 0, 1, 2, 3
NEVER = np.inf

LINE = 64  # bytes of a cache line


def _in_lines(*lines: list[tuple[str, str]]) -> np.dtype[Any]:
    """A record whose groups of fields start at a cache line each."""
    names, formats, offsets = [], [], []
    for i, fields in enumerate(lines):
        packed = np.dtype(fields, align=True)
        if packed.itemsize > LINE:
            raise ValueError(f"{packed.itemsize} bytes do not fit into a cache line")
        for name, kind in fields:
            names.append(name)
            formats.append(kind)
            offsets.append(i * LINE + packed.fields[name][1])  # type: ignore[index]
    return np.dtype({"names": names, "formats": formats, "offsets": offsets, "itemsize": len(lines) * LINE})


GROUND = _in_lines(
    [
        ("plantable", "f8"),
        ("access", "f8"),
        ("wetness", "f8"),
        ("mapped", "f8"),
        ("block", "i4"),
        ("unit", "i4"),
        ("moves", "u4"),
        ("first_host", "i4"),
        ("after_hosts", "i4"),
        ("perch", "u1"),
        ("boundary", "u1"),
        ("sensitive", "u1"),
    ]
)
# What is known of any cell: the place of its stand (-1: it never changed), and marks.
CELL = np.dtype([("slot", "i4"), ("known", "u1"), ("unlisted", "u1"), ("planted", "u1"), ("stale", "u1")], align=True)
# Of a cell that waits for the front: the season in which it enters, or IN_HEAP, and the move that it comes by;
# the cells before and after it in the chain of the season, or its place in the heap as `after`.
WAIT = np.dtype([("season", "u2"), ("via", "u1")], align=True)
LINK = np.dtype([("before", "i4"), ("after", "i4")], align=True)
IN_HEAP = 2**16 - 1
# What a year's end looks at: a row for each cell that ever changed, in that order, so that it is read from end to end.
STAND = _in_lines(
    [
        ("odds", "f8"),
        ("step", "f8"),
        ("arrival", "f8"),
        ("slow", "f8"),
        ("native", "f8"),
        ("area", "f8"),
        ("cell", "i4"),
        ("infested", "u1"),
        ("founder", "u1"),
        ("known", "u1"),
        ("full", "u1"),
        ("changed", "u1"),
    ]
)
# The rest of what is known of such a cell; `since` counts where stand.changed says so, else the last year's end.
PAST = np.dtype([("since", "f8"), ("disturbed", "f8"), ("place", "i4"), ("origin", "i4")], align=True)
# What work looks at.
CARE = _in_lines(
    [
        ("covered", "f8"),
        ("task", "i4"),
        ("found", "i4"),
        ("worked", "i4"),
        ("clean", "i4"),
        ("seedling", "i4"),
    ]
)
HOST = np.dtype(
    [
        ("x", "f8"),
        ("y", "f8"),
        ("height", "f8"),
        ("top_light", "f8"),
        ("girth", "f8"),
        ("years_climbing", "f8"),
        ("cell", "i8"),
        ("state", "u1"),
        ("known", "u1"),
        ("tree", "u1"),
    ],
    align=True,
)
HOST_STATE = np.dtype(
    [
        ("climbed", "f8"),
        ("fruit", "f8"),
        ("cut", "f8"),
        ("ring", "f8"),
        ("crop_left", "f8"),
        ("wait", "f8"),
        ("leaving", "f8"),
        ("crop_season", "i8"),
        ("bore", "i8"),
        ("task", "i8"),
        ("clean", "i8"),
        ("season", "i8"),
        ("visits", "i8"),
        ("done", "u4"),
        ("state", "u1"),
        ("known", "u1"),
        ("fruited_when_mapped", "u1"),
        ("worked", "u1"),
        ("at_risk", "u1"),
        ("listed", "u1"),
        ("touched", "u1"),
        ("unlisted", "u1"),
    ],
    align=True,
)
SEEDLING = np.dtype(
    [
        ("cell", "i8"),
        ("germinates", "i8"),
        ("shed", "i8"),
        ("number", "i8"),
        ("entity", "i8"),
        ("next_in_cell", "i8"),
        ("next_in_season", "i8"),
        ("alive", "u1"),
        ("by_bird", "u1"),
        ("rooted", "u1"),
    ],
    align=True,
)
TASK = np.dtype(
    [
        ("share", "f8"),
        ("cap", "f8"),
        ("new_ground", "f8"),
        ("treatment", "i8"),
        ("follow", "i8"),
        ("instead", "i8"),
        ("order", "i8"),
        ("states", "i8"),
        ("first_year", "i8"),
        ("last_year", "i8"),
        ("every", "i8"),
        ("clean", "i8"),
        ("not_until", "i8"),
        ("first_season", "i8"),
        ("seasons", "u4"),
        ("crews", "u4"),
        ("haul", "u1"),
    ],
    align=True,
)
CREW = np.dtype(
    [
        ("hours", "f8", (4,)),
        ("pace", "f8"),
        ("turnout", "f8"),
        ("turnout_spread", "f8"),
        ("people", "f8"),
        ("per_leader", "f8"),
        ("walking", "f8"),
        ("price", "f8"),
        ("minimum", "f8"),
        ("name", "i8"),
        ("leader", "i8"),
        ("first_season", "i8"),
        ("last_season", "i8"),
        ("may", "u4"),
        ("volunteers", "u1"),
    ],
    align=True,
)
FUND = np.dtype([("amount", "f8"), ("first_year", "i8"), ("last_year", "i8"), ("crews", "u4")], align=True)
EVENT_ROW = np.dtype(
    [
        ("x", "f8"),
        ("y", "f8"),
        ("radius", "f8"),
        ("trees_fall", "f8"),
        ("per_year", "f8"),
        ("year", "i8"),
        ("quarter", "i8"),
    ],
    align=True,
)
# What a survey changes in a cell (cover 0: the mat there is gone) and in a host (state: bare, climbing, fruiting).
SEEN_CELL = np.dtype([("cover", "f8"), ("cell", "i8"), ("known", "u1")], align=True)
SEEN_HOST = np.dtype([("host", "i8"), ("state", "u1"), ("known", "u1")], align=True)
TREATMENT_RULES = np.dtype(
    [
        ("seasons", "u4"),
        ("stems", "u1"),
        ("mat", "u1"),
        ("search", "u1"),
        ("natives", "u1"),
        ("sources", "u1"),
        ("needs_fit_weather", "u1"),
        ("not_on_sensitive", "u1"),
        ("disturbs", "u1"),
    ],
    align=True,
)
TREATMENT_NUMBERS = (
    "stem_kill",
    "stem_kill_volunteers",
    "base_kill",
    "mat_kill",
    "seedling_kill",
    "kill_variation",
    "hours_per_host",
    "hours_per_area",
    "hours_floor",
    "hauling_share",
    "reroots",
    "ring_radius",
    "native_loss_dormant",
    "native_loss_growing",
    "crop_prevented_ripe",
    "fit_hours_per_day",
    "cryptic_share",
    "leaf_off_boost",
    "clumping_factor",
    "search_time_constant_mat",
    "search_time_constant_climbing",
    "incidental_finds",
    "misidentified",
    "material_per_area",
    "material_per_host",
    "cover_years",
    "hours_per_visit",
    "largest_patch",
    "plant_survival",
    "consent",
    "consent_delay",
)
VINE_NUMBERS = (
    "mat.front_speed",
    "mat.cover_doubling_time",
    "mat.max_cover",
    "mat.shade_factor",
    "mat.rooted_pieces",
    "mat.density_on_arrival",
    "mat.founder_area",
    "climb.climb_rate",
    "climb.vertical_speed",
    "climb.years_to_first_fruit",
    "climb.years_to_refruit",
    "climb.light_to_fruit",
    "climb.share_of_mature_climbers_fruiting",
    "climb.max_height",
    "climb.wait_shape",
    "climb.resprout_time",
    "seed.fruits_per_host",
    "seed.seeds_per_fruit",
    "seed.share_taken_by_birds",
    "seed.germination",
    "seed.first_winter_survival",
    "seed.seedling_to_rooted_patch",
    "seed.microsite_share",
    "seed.seed_bank_life",
    "seed.years_seed_to_patch",
    "seed.crop_spread",
    "birds.kernel_p",
    "birds.kernel_u",
    "birds.share_far",
    "birds.perch_bias_open",
    "birds.perch_bias_forest",
    "impact.native_cover_under_full_mat",
    "impact.native_recovery_time",
    "impact.native_recovery_ceiling",
    "impact.tree_failure_factor",
    "impact.tree_failure_base",
    "disturbance.release_factor",
    "disturbance.release_years",
)
TREATMENT = np.dtype([(name, "f8") for name in TREATMENT_NUMBERS])
VINE = np.dtype([(name.split(".")[1], "f8") for name in VINE_NUMBERS])


class Ground(NamedTuple):
    """The site: never written by a kernel, shared by all threads."""

    cells: Any  # GROUND (cells)
    canopy: Any  # f8 (cells): apart because the front looks at many
    hosts: Any  # HOST (hosts)
    lists: Any  # i8 (6, longest): see HOSTS_BY_CELL and on
    sources: Any  # f8 (sources, 3): x, y (m), fruiting-host equivalents
    numbers: Any  # f8: see SIDE and on
    shape: Any  # i8: see ROWS and on


class Plan(NamedTuple):
    """One strategy with its crews, packed: never written by a kernel."""

    tasks: Any  # TASK (tasks)
    rules: Any  # TREATMENT_RULES (treatments)
    crews: Any  # CREW (crews)
    unit_rank: Any  # i8 (tasks, units + 1): place in the order of units, -1 where the task does not work
    unit_area: Any  # f8 (units + 1): plantable ground, m2
    funds: Any  # FUND (funds), the one that ends first comes first; none: money is no limit
    events: Any  # EVENT_ROW (events)
    weather: Any  # f8 (weather years, 4): days fit to spray; none: Poisson about FIT_DAYS
    seasonal: Any  # f8 (3, 5): see FIT_DAYS and on
    switches: Any  # i8: see RUN_WORK and on


class State(NamedTuple):
    """One thread's working memory, put back by list after every run."""

    cells: Any  # CELL (cells)
    kinds: Any  # u1 (cells): EMPTY and on
    # what the front looks at lies apart by the kind of look, since it looks at many cells and most looks are the first:
    expected: Any  # f8 (cells): when the front is expected at an empty cell, NEVER if it isn't; -NEVER in the mat
    cleared: Any  # f8 (cells): when it was cleared last, -NEVER if it never was
    push: Any  # f8 (cells): when an infested cell began to push on its neighbours
    waits: Any  # WAIT (cells)
    links: Any  # LINK (cells)
    heap_keys: Any  # f8 (cells): when the front enters the cells of the heap, by place in HEAP
    stands: Any  # STAND (cells): cell.slot says where
    pasts: Any  # PAST (cells): in the order of stands
    seen: Any  # u2 (slots, cells), in the order of stands: cover in 1/10,000 and one more, 0 without mat
    care: Any  # CARE (cells)
    hosts: Any  # HOST_STATE (hosts)
    seedlings: Any  # SEEDLING (capacity)
    lists: Any  # i8 (31, longest): see INFESTED and on
    keys: Any  # f8 (longest, 2): order of candidates in a pass, by place in QUEUE
    books: Any  # f8 (8, longest): see EFFORT and on
    count: Any  # i8: lengths of the lists, see N_INFESTED and on


class Film(NamedTuple):
    """What was seen after each season, see `kernels.film`; empty where nobody looks."""

    cover: Any  # u1 (4 years + 1 or 0, cells): cover in 1/250
    ground: Any  # u1 (4 years + 1 or 0, cells): KNOWN, WORKED
    hosts: Any  # u1 (4 years + 1 or 0, hosts): state, or LOOKS_FRUITING
    marks: Any  # u1 (4 years + 1 or 0, hosts): KNOWN, WORKED, BORE
    area: Any  # f8 (4 years + 1 or 0): mat area, m2
    landings: Any  # i8 (seedlings or 0, 6): see SHED_IN and on
    count: Any  # i8 (1): seeds entered


class Tally(NamedTuple):
    """Where one run writes what happened."""

    yearly: Any  # f8 (years + 1, outcomes): see OUTCOMES
    hours: Any  # f8 (years, 4, tasks, 2, crews): new ground or follow-up
    unspent: Any  # f8 (years, 4, reasons): see NO_TASK and on
    funds: Any  # f8 (years + 1, funds): money left at the year's end
    amounts: Any  # f8 (years, 4, tasks, 3, 2): by treatment (own, follow-up's, instead): m2 and hosts worked
    available: Any  # f8 (years, 4, crews)
    map_slot: Any  # i4 (years + 1): slot of a year in the maps, -1 none
    touched: Any  # i8 (years + 1): cells that had changed by a year's end
    sums: Any  # i8 (cells, slots): summed over replicates, cover in 1/10,000, and ONE_MORE for each with mat
    cover: Any  # f4 (years + 1 or 0, cells): this replicate's own cover
    film: Any  # Film


# in sums of maps: replicates with mat are counted above what cover can add up to
COVER_BITS = 40
ONE_MORE = 2**COVER_BITS
# rows of Ground.lists: the hosts of a cell are HOSTS_BY_CELL from its first_host to before its after_hosts
HOSTS_BY_CELL, TREES, MAPPED, FIRST_CLIMBED, OFFSETS, BOUNDARY = range(6)
# places in Ground.shape
ROWS, COLUMNS, N_TREES, N_MAPPED, N_FIRST_CLIMBED, N_BOUNDARY, N_BLOCKS = range(7)
# rows of Plan.seasonal: days fit to spray, fruit seasons (last: how many), growth time at a season's start (last: 1)
FIT_DAYS, FRUIT, GROWTH = range(3)
# rows of State.books: scouting this season by unit, min/ha; hours by crew; fit hours used by crew; hours for new
# ground by task; new ground left this year by task, m2; money left by fund; when a planted source is gone, yr;
# hours worked this season by crew, leading included
EFFORT, HOURS_LEFT, FIT_USED, TASK_LEFT, GROUND_LEFT, FUND_LEFT, SOURCE_GONE, WORKED = range(8)
# rows of State.lists: infested cells (stand.place is where); cells that ever changed; infested cells that nobody knows;
# cells with visits to come, in order of opening; cells that the front enters this season, a heap by entry time; hosts
# with climbing stems or a living base; bare hosts that stand in mat; and so on; first seedling that roots in a season;
# candidates of a pass; last season (+1) in which a block was worked; known fruiting hosts by unit, then in all; last
# season (+1) in which a task worked; last year (+1) in which a source's owner was asked; what kept a crew from work;
# first of the cells that the front enters in a later season, chained by links; known mat by
# 32 cells, and which of these words are not 0; runs of known cells side by side: first cell, number of cells, first run
# of the patch, next run of the patch, and at the first: the last run and the number of cells; by cell: the least cell
# of its patch, and how many it has; season of the next visit and task, see `when_due`, of what is opened, by place in
# OPENED and OPENED_HOSTS; hosts that fell and had not changed before
INFESTED, TOUCHED, UNKNOWN, OPENED, HEAP, CLIMBERS, AT_RISK, TOUCHED_HOSTS, UNKNOWN_HOSTS, OPENED_HOSTS = range(10)
ROOTING, QUEUE, VISITED, FRUITING_KNOWN, STARTED, ASKED, KEPT_BACK, BUCKETS = range(10, 18)
KNOWN_WORDS, WORDS_USED, RUN_START, RUN_LENGTH, RUN_ROOT, RUN_NEXT, RUN_LAST, RUN_SIZE = range(18, 26)
PATCH, PATCH_SIZE = range(26, 28)
OPENED_WHEN, OPENED_HOSTS_WHEN, FALLEN_HOSTS = range(28, 31)
# distance along each move, in cell sides; the moves are in model.pack_site.MOVES
REACH = np.array((
    math.sqrt(2.0), 1.0, math.sqrt(2.0), 1.0, 1.0, math.sqrt(2.0), 1.0, math.sqrt(2.0),
    math.sqrt(5.0), math.sqrt(5.0), math.sqrt(5.0), math.sqrt(5.0),
    math.sqrt(5.0), math.sqrt(5.0), math.sqrt(5.0), math.sqrt(5.0),
))  # fmt: skip
# length of a cell along each move, in cell sides: |cos| + |sin| of its direction
WIDTH = np.array((
    math.sqrt(2.0), 1.0, math.sqrt(2.0), 1.0, 1.0, math.sqrt(2.0), 1.0, math.sqrt(2.0),
    3.0 / math.sqrt(5.0), 3.0 / math.sqrt(5.0), 3.0 / math.sqrt(5.0), 3.0 / math.sqrt(5.0),
    3.0 / math.sqrt(5.0), 3.0 / math.sqrt(5.0), 3.0 / math.sqrt(5.0), 3.0 / math.sqrt(5.0),
))  # fmt: skip
# the two cells that each knight's move crosses, or a diagonal squeezes between, as moves from its start; -1: none
PASSED = np.array(
    (
        (1, 3), (-1, -1), (1, 4), (-1, -1), (-1, -1), (3, 6), (-1, -1), (4, 6),
        (1, 0), (1, 2), (3, 0), (4, 2), (3, 5), (4, 7), (6, 5), (6, 7),
    )
)  # fmt: skip
# places in State.count: lengths of the lists of the same name, and more
N_INFESTED, N_TOUCHED, N_UNKNOWN, N_OPENED, N_HEAP, N_CLIMBERS, N_AT_RISK = range(7)
N_TOUCHED_HOSTS, N_UNKNOWN_HOSTS, N_OPENED_HOSTS, N_SEEDLINGS, N_FALLEN, N_CLEARED, FAULT = range(7, 14)
# the season that the front moves in, or will next; runs; changes of the known mat so far, and when runs were found
ADVANCING, N_RUNS, CHANGES, AS_OF = range(14, 18)
# the year whose end was recorded last
RECORDED, N_FALLEN_HOSTS = 18, 19
N_COUNTS = 20


OUTCOMES = (
    "mat_area",
    "infested_area",
    "climbed_hosts",
    "fruiting_hosts",
    "fallen_hosts",
    "seeds_produced",
    "seeds_exported",
    "new_patches",
    "native_cover",
    "known_area",
    "known_fruiting_hosts",
    "sources_standing",
)
(
    MAT_AREA,
    INFESTED_AREA,
    CLIMBED,
    FRUITING,
    FALLEN_COUNT,
    SEEDS,
    EXPORTED,
    NEW_PATCHES,
    NATIVE,
    KNOWN_AREA,
    KNOWN_FRUITING,
    SOURCES_STANDING,
) = range(12)

# places in Ground.numbers
SIDE, PLANTABLE_SUM, AWAY_SUM, PERCH_OPEN_SUM, PERCH_FOREST_SUM, BACKGROUND = range(6)
# places in Plan.switches
RUN_WORK, RUN_MAT, RUN_CLIMBING, RUN_BIRDS, RUN_SEEDLINGS, RUN_TREES, RUN_NATIVES, RUN_EVENTS = range(8)
RESERVE, YEARS, SCOUT = range(8, 11)
# years are run from the first on, up to before the end; YEARS is how long the whole is
FIRST_YEAR, END_YEAR = 11, 12
N_SWITCHES = 13
# why hours were left: no task that the crew may do; none open in this season; no day fit to spray; held back by a
# share, a cap or a fund; too few for a whole target; no target
NO_TASK, NO_SEASON, NO_FIT_DAY, HELD_BACK, TOO_FEW, NO_TARGET = range(6)
ORDER_FRUIT, ORDER_FRUIT_PER_HOUR, ORDER_OUTLYING, ORDER_LARGEST, ORDER_UNIT, ORDER_SWEEP, ORDER_ACCESS = range(7)
