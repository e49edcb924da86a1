"""Compare strategies against a vine that creeps, climbs, fruits where it has climbed and is carried by birds.

It compares strategies under stated assumptions; it does not forecast a place.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from spreadsim.analysis import (
        Goals,
        Limit,
        broken,
        contrast,
        contrasts,
        decide,
        make_goals,
        net_present_cost,
        read_goals,
        regret,
        scores,
        sensitivity,
        survey_finds,
        survey_value,
        value_of_knowing,
        value_of_statistics,
    )
    from spreadsim.errors import InputError
    from spreadsim.exports import export_ground, export_map, export_table, export_zarr
    from spreadsim.inputs import (
        Crew,
        Design,
        Event,
        Experiment,
        Factor,
        FollowUp,
        Fund,
        Site,
        Strategy,
        Survey,
        Task,
        Treatment,
        Vine,
        Weather,
        experiment_of,
        grid,
        latin_hypercube,
        listed,
        load_treatment,
        load_vine,
        read_design,
        read_experiment,
        read_site,
        read_survey,
        sobol,
    )
    from spreadsim.learning import learn
    from spreadsim.planning import may_be_called_clear
    from spreadsim.planning.axes import read_axis
    from spreadsim.planning.flips import flips
    from spreadsim.planning.search import search
    from spreadsim.planning.worklist import read_tally, sessions_of, work_list
    from spreadsim.runs.compare import compare
    from spreadsim.runs.film import film
    from spreadsim.runs.simulate import simulate
    from spreadsim.runs.sweep import sweep
    from spreadsim.runs.until import compare_until
    from spreadsim.store import open_outcomes
    from spreadsim.views.figures import (
        draw_changes,
        draw_differences,
        draw_hours,
        draw_maps,
        draw_outcomes,
        draw_series,
        draw_site,
        save_figure,
    )

__version__ = "0.1.0"

_HOMES = {
    "Goals": "spreadsim.analysis",
    "Limit": "spreadsim.analysis",
    "broken": "spreadsim.analysis",
    "contrast": "spreadsim.analysis",
    "export_ground": "spreadsim.exports",
    "flips": "spreadsim.planning.flips",
    "learn": "spreadsim.learning",
    "read_tally": "spreadsim.planning.worklist",
    "sessions_of": "spreadsim.planning.worklist",
    "work_list": "spreadsim.planning.worklist",
    "read_axis": "spreadsim.planning.axes",
    "export_map": "spreadsim.exports",
    "export_table": "spreadsim.exports",
    "export_zarr": "spreadsim.exports",
    "contrasts": "spreadsim.analysis",
    "decide": "spreadsim.analysis",
    "may_be_called_clear": "spreadsim.planning",
    "make_goals": "spreadsim.analysis",
    "net_present_cost": "spreadsim.analysis",
    "read_goals": "spreadsim.analysis",
    "search": "spreadsim.planning.search",
    "regret": "spreadsim.analysis",
    "scores": "spreadsim.analysis",
    "sensitivity": "spreadsim.analysis",
    "survey_finds": "spreadsim.analysis",
    "survey_value": "spreadsim.analysis",
    "value_of_knowing": "spreadsim.analysis",
    "value_of_statistics": "spreadsim.analysis",
    "InputError": "spreadsim.errors",
    "Crew": "spreadsim.inputs",
    "Design": "spreadsim.inputs",
    "Event": "spreadsim.inputs",
    "Experiment": "spreadsim.inputs",
    "Factor": "spreadsim.inputs",
    "FollowUp": "spreadsim.inputs",
    "Fund": "spreadsim.inputs",
    "Site": "spreadsim.inputs",
    "Strategy": "spreadsim.inputs",
    "Survey": "spreadsim.inputs",
    "Task": "spreadsim.inputs",
    "Treatment": "spreadsim.inputs",
    "Vine": "spreadsim.inputs",
    "Weather": "spreadsim.inputs",
    "experiment_of": "spreadsim.inputs",
    "grid": "spreadsim.inputs",
    "latin_hypercube": "spreadsim.inputs",
    "listed": "spreadsim.inputs",
    "load_treatment": "spreadsim.inputs",
    "load_vine": "spreadsim.inputs",
    "read_design": "spreadsim.inputs",
    "read_experiment": "spreadsim.inputs",
    "read_site": "spreadsim.inputs",
    "read_survey": "spreadsim.inputs",
    "sobol": "spreadsim.inputs",
    "compare": "spreadsim.runs",
    "film": "spreadsim.runs",
    "compare_until": "spreadsim.runs",
    "simulate": "spreadsim.runs",
    "sweep": "spreadsim.runs",
    "open_outcomes": "spreadsim.store",
    "draw_changes": "spreadsim.views.figures",
    "draw_differences": "spreadsim.views.figures",
    "draw_hours": "spreadsim.views.figures",
    "draw_maps": "spreadsim.views.figures",
    "draw_outcomes": "spreadsim.views.figures",
    "draw_series": "spreadsim.views.figures",
    "draw_site": "spreadsim.views.figures",
    "save_figure": "spreadsim.views.figures",
}

__all__ = [
    "Crew",
    "Design",
    "Event",
    "Experiment",
    "Factor",
    "FollowUp",
    "Fund",
    "Goals",
    "InputError",
    "Limit",
    "Site",
    "Strategy",
    "Survey",
    "Task",
    "Treatment",
    "Vine",
    "Weather",
    "broken",
    "compare",
    "compare_until",
    "contrast",
    "contrasts",
    "decide",
    "draw_changes",
    "draw_differences",
    "draw_hours",
    "draw_maps",
    "draw_outcomes",
    "draw_series",
    "draw_site",
    "experiment_of",
    "export_ground",
    "export_map",
    "export_table",
    "export_zarr",
    "film",
    "flips",
    "grid",
    "latin_hypercube",
    "learn",
    "listed",
    "load_treatment",
    "load_vine",
    "make_goals",
    "may_be_called_clear",
    "net_present_cost",
    "open_outcomes",
    "read_axis",
    "read_design",
    "read_experiment",
    "read_goals",
    "read_site",
    "read_survey",
    "read_tally",
    "regret",
    "save_figure",
    "scores",
    "search",
    "sensitivity",
    "sessions_of",
    "simulate",
    "sobol",
    "survey_finds",
    "survey_value",
    "sweep",
    "value_of_knowing",
    "value_of_statistics",
    "work_list",
]


def __getattr__(name: str) -> Any:
    """Load a public name when it is first asked for, so that `spreadsim --help` needs no compiler."""
    if name in _HOMES:
        value = getattr(import_module(_HOMES[name]), name)
        globals()[name] = value
        return value
    raise AttributeError(f"module 'spreadsim' has no attribute {name!r}")


def __dir__() -> list[str]:
    """List the public names."""
    return sorted(__all__)
