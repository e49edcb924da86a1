"""What goes with work: tools and protective gear, hauling out, unfit days, coming back, look-alikes."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

from spreadsim.inputs import Treatment, Vine
from spreadsim.inputs.task import kind_of_work
from spreadsim.planning.worklist.listed import WorkList, spread
from spreadsim.planning.worklist.material import area_text, material_text, task_material
from spreadsim.planning.worklist.sessions import Session
from spreadsim.planning.worklist.worked import treatments_of
from spreadsim.schema import SEASONS

# Common practice, no source.
EVERYBODY = (
    "gloves, long sleeves and trousers, sturdy shoes, water, first-aid kit, a charged phone, this sheet, a pencil"
)
_TOOLS: Mapping[str, str] = MappingProxyType(
    {
        "stems": "hand saw, loppers, pry bar for stems that lie tight; eye protection, helmet under trees",
        "mat": "hand forks, mattock, tarps or bags for what is pulled",
        "natives": "planting spades, buckets, water for the plants",
        "search": "flagging tape, a GPS or phone with the points, binoculars for the crowns",
        "sources": "leaflets, a plant that is given in exchange, a list of the houses",
    }
)
_HERBICIDE = "herbicide and protective gear as the product label says; signs for the public, spill kit, water and soap"
_COVER = "pegs or weights, a knife, wheelbarrows"
# From memory; a vine of one's own has none.
_ALIKE: Mapping[str, str] = MappingProxyType(
    {
        "wintercreeper": "partridgeberry (creeping, leaves round with a pale midrib), running strawberry bush (sheds "
        "its leaves in winter), Virginia creeper (five leaflets), young poison ivy (three leaflets)",
        "english-ivy": "Virginia creeper and Boston ivy (both bare in winter, climb by discs or tendrils), poison ivy "
        "(three leaflets, hairy stem)",
    }
)


def gear(treatments: Iterable[Treatment]) -> list[str]:
    """Tools and protective gear, each once: what everybody needs first."""
    found = [EVERYBODY]
    for treatment in treatments:
        if treatment.herbicide:
            found.append(_HERBICIDE)
        if treatment.number("cover_years") > 0:
            found.append(_COVER)
        if not treatment.herbicide or kind_of_work(treatment) == "stems":
            found.append(_TOOLS[kind_of_work(treatment)])
    return list(dict.fromkeys(found))


def look_alikes(vine: Vine) -> str:
    """Plants that are taken for the vine."""
    told = _ALIKE.get(vine.name)
    always = "If in doubt, leave it, mark it, and ask. Poison ivy: don't touch, never burn."
    return (
        f"{told}. {always}" if told else f"Ask somebody who knows them, and write them here before printing. {always}"
    )


def haul_out(work: WorkList, season: int, task: int) -> str:
    """Say what leaves the ground and what stays, empty where nothing is cut or pulled."""
    one = work.strategy.tasks[task]
    treatments = treatments_of(work.experiment, one)
    if one.haul_out:
        return "carry out what is cut or pulled, in bags or on tarps"
    fruit = work.experiment.vine["seed.fruit_season"].value
    ripe = SEASONS[season % 4] in fruit if isinstance(fruit, list | tuple) else SEASONS[season % 4] == fruit
    told = []
    if any(treatment.number("stem_kill") > 0 for treatment in treatments):
        told.append("cut stems stay in the tree until they fall by themselves")
        if ripe:
            told.append("fruit that can be reached from the ground is bagged and carried out")
    if any(treatment.number("reroots") > 0 for treatment in treatments):
        told.append("what is pulled is left to dry off the ground; on wet ground it roots again, so carry it out there")
    return "; ".join(told)


def unfit_days(work: WorkList, season: int, task: int, system: str = "metric") -> str:
    """Say what to do if fewer days are fit for spraying; empty for a task that needs none."""
    one = work.strategy.tasks[task]
    treatments = {treatment.name: treatment for treatment in treatments_of(work.experiment, one)}
    waiting = [treatment for treatment in treatments.values() if treatment.needs_fit_weather]
    amounts = work.done.amounts[:, season, task]
    if not waiting or not amounts.any():
        return ""
    days = work.experiment.weather.fit_days[season % 4]
    per_day = _area_per_day(work, waiting[0], task)
    text = f"Counted on: {days:.3g} days fit for spraying on average in {SEASONS[season % 4]}"
    text += f", some {area_text(per_day, system)} each" if per_day else ""
    if one.instead is None:
        return f"{text}. On fewer, what is not done waits: do nothing else in its place."
    other = treatments[one.instead]
    done, instead = (spread(amounts[:, slot, 0])[0] for slot in (0, 2))
    if done or instead:
        text += f"; in the middle of the worlds {area_text(done, system)} {waiting[0].name}"
        text += f" and {area_text(instead, system)} {other.name}"
    text += f". On fewer, {other.title.lower()} ({other.name}) from the top of the list"
    factor = _times(waiting[0], other)
    if factor > 1.5:
        text += f", which takes some {float(f'{factor:.2g}'):,.3g} times the hours, so that the end of the list waits"
    return text + "."


def _area_per_day(work: WorkList, treatment: Treatment, task: int) -> float:
    """Ground that the task's first crew sprays on a fit day, m2; 0 if it is no ground."""
    each = treatment.number("hours_per_area")
    named = work.strategy.tasks[task].crews
    crews = [c for c in work.experiment.crews if c.may_do(treatment) and (not named or c.name in named)]
    if not crews or not each:
        return 0.0
    return treatment.number("fit_hours_per_day") * crews[0].people * crews[0].pace / each


def _times(treatment: Treatment, other: Treatment) -> float:
    for role in ("hours_per_area", "hours_per_host"):
        if treatment.number(role) > 0:
            return other.number(role) / treatment.number(role)
    return 1.0


def come_back(work: WorkList, season: int, task: int) -> str:
    """Say when what is opened in a season is due again."""
    follow = work.strategy.tasks[task].follow_up
    if follow is None:
        return ""
    treatment = follow.treatment or work.strategy.tasks[task].treatment
    again = f"{work.season_name(season + follow.every)} ({treatment})"
    visits = "once" if follow.clean == 1 else f"{follow.clean} times running"
    return f"{again}, then every {follow.every} seasons until clean {visits}"


@dataclass(frozen=True)
class Notes:
    """What goes with the work of a list, in words."""

    work: WorkList
    system: str = "metric"
    """Units, "metric" or "us"."""

    def of_task(self, season: int, task: int) -> dict[str, str]:
        """Give material, unfit days, hauling out and coming back; empty where there is nothing to say."""
        area = spread(self.work.done.area[:, season, task].sum(axis=1))[0]
        material = task_material(self.work, season, task, area, self.system)
        back = come_back(self.work, season, task)
        return {
            "material": f"material: {material}" if material else "",
            "unfit": unfit_days(self.work, season, task, self.system),
            "haul": haul_out(self.work, season, task),
            "back": f"what is opened is due again in {back}" if back else "",
        }

    def of_session(self, session: Session) -> dict[str, Any]:
        """Give what people take along (gear, a list; material), look-alikes, and cautions (a list)."""
        experiment = self.work.experiment
        area: dict[str, float] = {}
        for job in session.jobs:
            for place, name in enumerate(job.place.treatments):
                # of two that may be used the second is what is done where the first can't be: it takes no material here
                area[name] = area.get(name, 0.0) + (job.place.area * job.share if place == 0 else 0.0)
        used = [experiment.treatment(name) for name in area]
        material = [material_text([treatment], area[treatment.name], self.system) for treatment in used]
        return {
            "gear": gear(used),
            "material": "; ".join(dict.fromkeys(filter(None, material))),
            "alike": look_alikes(experiment.vine),
            "cautions": list(dict.fromkeys(text for treatment in used for text in treatment.cautions)),
        }
