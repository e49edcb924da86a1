"""What a run of the command line imports and loads, done once: `forked.py` forks from a process that has imported this."""

import importlib

import spreadsim

for name in ("cli_compare", "cli_sweep", "views.report", "runs.on_disk", "runs.sweep", "model.compiled", "netcdf"):
    importlib.import_module(f"spreadsim.{name}")
_SITE = spreadsim.Site.from_arrays(2.0, mat=[[0.0, 1.0], [0.0, 0.0]])
_WORK = spreadsim.Strategy("mats", tasks=[spreadsim.Task("pull")])
spreadsim.simulate(
    _SITE,
    spreadsim.load_vine("wintercreeper"),
    _WORK,
    crews=[spreadsim.Crew("staff", 1.0)],
    years=1,
    replicates=1,
    seed=1,
)
