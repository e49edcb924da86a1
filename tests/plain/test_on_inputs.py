"""The reference simulator takes the project's own frozen inputs as they are."""

import numpy as np

from spreadsim.inputs import Crew, FollowUp, Site, Strategy, Task, Weather, load_treatment, load_vine, treatment_names

from .season import run


def small_site():
    """A small invented site."""
    mat = np.zeros((12, 12))
    mat[0:5, 0:5] = 0.9
    units = np.where(np.arange(12)[:, None] < 6, 1, 2) * np.ones((1, 12), dtype=int)
    hosts = {"x": [3.0, 5.0, 15.0], "y": [21.0, 17.0, 5.0], "state": ["fruiting", "climbing", "bare"]}
    return Site.from_arrays(2.0, mat=mat, hosts=hosts, units=units, background_seed=100.0)


def test_it_runs_on_the_projects_inputs():
    treatments = {name: load_treatment(name) for name in treatment_names()}
    crews = (
        Crew("friends", {"spring": 8, "summer": 8}, ["cut", "pull", "clear-ring"], volunteers=True, pace=0.7),
        Crew("staff", 4, people=2),
    )
    tasks = [
        Task("cut", share=0.3, follow_up=FollowUp()),
        Task("clear-ring", share=0.2),
        Task("scout", cap=0.5),
        Task("foliar-spray", instead="pull", follow_up=FollowUp(every=2, treatment="spot-spray")),
        Task("pull", haul_out=True, units=("unit 2", "unit 1"), order="by unit"),
    ]
    for vine in ("wintercreeper", "english-ivy"):
        profile = load_vine(vine)
        out = run(
            small_site(), profile, treatments, Strategy("both", tasks=tasks), crews, Weather((4, 6, 8, 5)), 3, 11, 2
        )
        hours = out["hours"][1:]
        assert hours.shape == (3, 4, 5)
        assert (hours.sum(axis=2) <= out["hours_available"][1:] * (1 + 1e-12)).all()
        assert (hours.sum(axis=(0, 1)) > 0).sum() >= 3
        assert out["mat_area"][0] > 0
        assert out["seeds_produced"][1:].min() >= 0
        for name, parameter in profile.parameters.items():
            if parameter.drawn:
                assert parameter.low <= out["parameters"][name] <= parameter.high, name
        for name, treatment in treatments.items():
            for role, parameter in treatment.parameters.items():
                drawn = out["parameters"][f"{name}.{role}"]
                assert not parameter.drawn or parameter.low <= drawn <= parameter.high, (name, role)
