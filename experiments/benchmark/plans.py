"""Invented crews, money, weather, events and six strategies for the benchmarks: all kinds of work in one comparison."""

from sites import NOTICE, UNITS, middle_of

import spreadsim
from spreadsim import Crew, Event, FollowUp, Fund, Strategy, Task, Weather

YEARLY = FollowUp(every=4, clean=2)


def crews() -> tuple[Crew, ...]:
    """Volunteers led by staff, and a contractor: 400 hours a year."""
    return (
        Crew(
            "volunteers",
            {"winter": 70, "spring": 30, "summer": 10, "autumn": 90},
            may=("scout", "cut", "clear-ring", "pull", "plant"),
            volunteers=True,
            pace=0.7,
            turnout=0.8,
            turnout_spread=0.2,
            leader="staff",
            walking_minutes=2.0,
            price=34.5,
            paid=False,
        ),
        Crew("staff", {"winter": 40, "spring": 30, "summer": 20, "autumn": 40}, may=("all",), price=35.0),
        Crew("contractor", {"winter": 20, "autumn": 50}, may=("cut-and-treat", "foliar-spray"), price=80.0),
    )


def look() -> Task:
    """Walk the units in winter."""
    return Task("scout", seasons=("winter",), order="walking sweep", share=0.1, units=UNITS)


def stems(**when: tuple[int, int]) -> tuple[Task, ...]:
    """Cut what climbs, then clear rings."""
    return (
        Task("cut", order="fruiting first", follow_up=YEARLY, units=UNITS, **when),
        Task("clear-ring", order="fruiting first", share=0.3, units=UNITS, **when),
    )


def mats(**when: tuple[int, int]) -> Task:
    """Pull mats, outlying patches first."""
    return Task("pull", order="outlying patches first", follow_up=YEARLY, units=UNITS, **when)


def strategies(years: int) -> tuple[Strategy, ...]:
    """No action and five others; what comes later begins after a third of the years."""
    later = (years // 3 + 1, years)
    sprayed = Task(
        "foliar-spray",
        order="largest first",
        seasons=("winter", "autumn"),
        instead="pull",
        not_until="no known fruiting host in the unit",
        new_ground=2000.0,
        follow_up=FollowUp(every=4, clean=2, treatment="spot-spray"),
        units=UNITS,
    )
    treated = Task("cut-and-treat", targets="fruiting", order="most fruit per hour", instead="cut", units=UNITS)
    return (
        Strategy("no action"),
        Strategy("stems first", tasks=[look(), *stems(), mats(years=later)]),
        Strategy("mats first", tasks=[look(), mats(), *stems(years=later)], reserve_follow_up=False),
        Strategy("both together", tasks=[look(), *stems(), mats()]),
        Strategy("stop the seed", tasks=[look(), treated, *stems(), sprayed, mats()]),
        Strategy(
            "cover and plant",
            tasks=[
                look(),
                Task("remove-source"),
                *stems(),
                Task("tarp", order="by unit", new_ground=500.0, follow_up=YEARLY, units=UNITS),
                mats(),
                Task("plant", not_until="two clean visits", new_ground=300.0, units=UNITS),
            ],
        ),
    )


def experiment(
    site: spreadsim.Site, *, years: int = 30, chosen: tuple[str, ...] = (), storms: float = 0.2
) -> spreadsim.Experiment:
    """Put everything on a drawn site.

    Parameters
    ----------
    site
        As `sites.draw_site` draws it.
    years
        30, or fewer to try things out.
    chosen
        Names of strategies; none: all six.
    storms
        A year, anywhere on the site.
    """
    halfway = max(1, years // 2)
    x, y = middle_of(site)
    gap = Event("gap", year=min(8, years), x=x, y=y, radius=20.0, trees_fall=0.3)
    return spreadsim.Experiment(
        f"Benchmark: {site.title}",
        site,
        spreadsim.load_vine("wintercreeper"),
        crews(),
        tuple(strategy for strategy in strategies(years) if not chosen or strategy.name in chosen),
        years=years,
        weather=Weather({"winter": 4, "spring": 6, "summer": 8, "autumn": 5}),
        funds=(
            Fund("grant", 60_000.0, years=(1, halfway)),
            Fund("budget", 120_000.0),
        ),
        events=(gap, Event("storm", per_year=storms, season="autumn", radius=30.0, trees_fall=0.2))
        if storms
        else (gap,),
        notice=NOTICE,
    )
