"""Everything that a case can be without: if a run differs without it, it had an effect."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import numpy as np

from spreadsim.inputs import Crew, Event, FollowUp, Fund, Strategy, Task, Weather, treatment_names
from spreadsim.inputs.task import CONDITIONS, ORDERS, kind_of_work
from spreadsim.inputs.treatment import ROLES

from .plain_cases import OWN, Case

Change = tuple[str, Callable[[], Case]]

PROCESSES = ("events", "work", "mat", "climbing", "birds", "seedlings", "trees", "natives")
# Without an effect on what is compared: what the model does not take up.
IDLE_ROLES = ("volume_per_area", "search_time_constant_seedling")
IDLE_NUMBERS = ("birds.gut_retention_minutes", "impact.tree_seedlings_under_full_mat")
# Links of the seed chain that cancel with the microsite share, which is solved from them.
CANCELLED = ("seed.germination", "seed.first_winter_survival", "seed.seedling_to_rooted_patch")
RULES: dict[str, Any] = {
    "units": (),
    "seasons": (),
    "years": None,
    "share": 1.0,
    "cap": None,
    "new_ground": None,
    "follow_up": None,
    "instead": None,
    "crews": (),
    "haul_out": False,
    "permit_seasons": 0,
    "targets": "all",
}
LAYERS = {"canopy": 0.0, "access": 1.0, "wetness": 0.0, "sensitive": False, "unit": 0, "boundary_mat": False}
COLUMNS = {"girth": "medium", "kind": "fence", "height": 9.0, "top_light": 1.0, "years_climbing": np.nan, "known": True}
CREW_PARTS = {"pace": 1.0, "turnout": 1.0, "people": 1.0, "volunteers": False, "may": ("all",)}
CREW_PARTS |= {"turnout_spread": 0.0, "leader": None, "people_per_leader": 9.0, "walking_minutes": 0.0}
CREW_PARTS |= {"setup_hours": 0.0, "lead_seasons": 0, "years": None, "price": 0.0, "paid": True}
CREW_PARTS |= {"minimum_charge": 0.0}
FUND_PARTS = {"years": None, "crews": (), "amount": 1e9}
EVENT_PARTS = ("trees_fall", "radius")


def everything(case: Case) -> list[str]:
    """Labels of all that has to have an effect in one of many cases."""
    vine = [f"vine {name}" for name in case.vine if is_used(case, name)]
    treatments = [*treatment_names(), *(treatment.name for treatment in OWN)]
    labels = [f"order {order}" for order in {order for orders in ORDERS.values() for order in orders}]
    labels += [f"role {role}" for role in ROLES if role not in IDLE_ROLES]
    labels += [f"treatment {name}" for name in treatments] + [f"rule {name}" for name in RULES] + vine
    labels += [f"process {name}" for name in PROCESSES] + [f"not_until {rule}" for rule in CONDITIONS]
    labels += [f"layer {name}" for name in (*LAYERS, "barriers")] + [f"hosts {name}" for name in COLUMNS]
    labels += [f"crew {name}" for name in CREW_PARTS] + ["sources", "background seed", "fit days", "reserve"]
    labels += ["follow_up every", "follow_up clean", "follow_up treatment", "weather monthly", "weather daily", "funds"]
    labels += [f"fund {name}" for name in FUND_PARTS] + ["planned event", "random event"]
    labels += [f"event {name}" for name in EVENT_PARTS]
    return sorted(labels)


def is_used(case: Case, name: str) -> bool:
    """Whether the model takes up a parameter of the vine, and as a number."""
    return isinstance(case.vine[name].value, float) and name not in (*IDLE_NUMBERS, *CANCELLED)


def with_tasks(case: Case, tasks: list[Task]) -> Case:
    """The same case with other tasks."""
    return replace(case, strategy=Strategy("work", tasks=tasks, reserve_follow_up=case.strategy.reserve_follow_up))


def without_treatment(case: Case, name: str) -> Case:
    """The same case without a treatment in any task."""
    kept = []
    for task in case.strategy.tasks:
        if task.treatment == name:
            continue
        if task.follow_up and task.follow_up.treatment == name:
            task = replace(task, follow_up=FollowUp(task.follow_up.every, task.follow_up.clean))
        kept.append(replace(task, instead=None) if task.instead == name else task)
    return with_tasks(case, kept)


def changes_of_tasks(case: Case) -> Iterator[Change]:
    """Rules and orders of tasks, and treatments."""
    known = case.treatments_by_name()
    for name in known:
        yield f"treatment {name}", lambda name=name: without_treatment(case, name)
    for t, task in enumerate(case.strategy.tasks):

        def to(t: int = t, task: Task = task, **values: Any) -> Case:
            tasks = list(case.strategy.tasks)
            tasks[t] = replace(task, **values)
            return with_tasks(case, tasks)

        for rule, nothing in RULES.items():
            if getattr(task, rule) != nothing:
                yield f"rule {rule}", lambda to=to, rule=rule, nothing=nothing: to(**{rule: nothing})
        if task.not_until:
            yield f"not_until {task.not_until}", lambda to=to: to(not_until=None)
        orders = ORDERS[kind_of_work(known[task.treatment])]
        usual = task.order or orders[0]
        for other in orders:
            if other != usual:
                yield f"order {usual}", lambda to=to, other=other: to(order=other)
        if task.follow_up:
            every, clean, treatment = task.follow_up.every, task.follow_up.clean, task.follow_up.treatment
            yield "follow_up every", lambda to=to, a=every + 1, b=clean, c=treatment: to(follow_up=FollowUp(a, b, c))
            yield "follow_up clean", lambda to=to, a=every, b=clean + 1, c=treatment: to(follow_up=FollowUp(a, b, c))
            if treatment:
                yield "follow_up treatment", lambda to=to, a=every, b=clean: to(follow_up=FollowUp(a, b))
    tasks, reserve = case.strategy.tasks, not case.strategy.reserve_follow_up
    yield "reserve", lambda: replace(case, strategy=Strategy("work", tasks=tasks, reserve_follow_up=reserve))
    if case.weather.table is not None:
        way = "monthly" if case.weather.monthly else "daily"
        yield f"weather {way}", lambda: replace(case, weather=Weather(case.weather.fit_days))
    yield "fit days", lambda: replace(case, weather=Weather(90.0))


def changes_of_numbers(case: Case) -> Iterator[Change]:
    """Numbers of the vine and of the treatments."""
    for name in case.vine:
        if is_used(case, name):
            number = 0.5 * case.vine[name].value if name != "climb.wait_shape" else 6.0
            values = {name: {"low": number, "value": number, "high": number}}
            yield (
                f"vine {name}",
                lambda values=values: replace(case, vine=case.vine.replace(values, check_ranges=False)),
            )
    for i, treatment in enumerate(case.treatments):
        for role in treatment:
            if role in IDLE_ROLES or treatment[role].value == 0.0:
                continue
            number = 0.5 * treatment[role].value
            values = {role: {"low": number, "value": number, "high": number}}

            def changed(i: int = i, treatment: Any = treatment, values: Any = values) -> Case:
                treatments = list(case.treatments)
                treatments[i] = treatment.replace(values, check_ranges=False)
                return replace(case, treatments=tuple(treatments))

            yield f"role {role}", changed


def changes_of_site(case: Case) -> Iterator[Change]:
    """Layers, hosts, seed from outside, crews."""
    site = case.site

    def to(**values: Any) -> Case:
        return replace(case, site=replace(site, **values))

    for name, nothing in LAYERS.items():
        layer = getattr(site, name)
        yield f"layer {name}", lambda name=name, layer=layer, v=nothing: to(**{name: np.full_like(layer, v)})
    yield "layer barriers", lambda: to(plantable=np.maximum(site.plantable, 0.001))
    for name, nothing in COLUMNS.items():
        column = getattr(site.hosts, name)
        same = (nothing,) * len(site.hosts) if isinstance(column, tuple) else np.full_like(column, nothing)
        yield f"hosts {name}", lambda name=name, same=same: to(hosts=replace(site.hosts, **{name: same}))
    if len(site.sources):
        yield "sources", lambda: to(sources=replace(site.sources, hosts=0.0 * site.sources.hosts))
    if site.background_seed:
        yield "background seed", lambda: to(background_seed=0.0)
    for i, crew in enumerate(case.crews):
        for name, usual in CREW_PARTS.items():
            if getattr(crew, name) != usual:

                def changed(i: int = i, crew: Crew = crew, name: str = name, usual: Any = usual) -> Case:
                    crews = list(case.crews)
                    crews[i] = Crew(**{**crew.to_dict(), name: usual})
                    return replace(case, crews=tuple(crews))

                yield f"crew {name}", changed


def changes_of_money_and_events(case: Case) -> Iterator[Change]:
    """Funds and events."""
    if case.funds:
        yield "funds", lambda: replace(case, funds=())
    for i, fund in enumerate(case.funds):
        for name, usual in FUND_PARTS.items():
            if getattr(fund, name) != usual:
                other = Fund(**{**fund.to_dict(), name: usual})
                funds = (*case.funds[:i], other, *case.funds[i + 1 :])
                yield f"fund {name}", lambda funds=funds: replace(case, funds=funds)
    for i, event in enumerate(case.events):
        label = "random event" if event.year is None else "planned event"
        # others stay in their places, as their draws are keyed by them
        nothing = {"radius": 1e-3, "trees_fall": 0.0}
        for name, values in (
            (label, nothing),
            ("event trees_fall", {"trees_fall": 0.0}),
            ("event radius", {"radius": 1e-3}),
        ):
            other: Event = replace(event, **values)
            events = (*case.events[:i], other, *case.events[i + 1 :])
            yield name, lambda events=events: replace(case, events=events)


def changes(case: Case) -> Iterator[Change]:
    """Name and maker of every change but that of processes."""
    yield from changes_of_tasks(case)
    yield from changes_of_numbers(case)
    yield from changes_of_site(case)
    yield from changes_of_money_and_events(case)
