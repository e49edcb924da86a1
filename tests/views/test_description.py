"""An experiment in words."""

import numpy as np
import pytest

from spreadsim.inputs import Crew, Experiment, FollowUp, Site, Strategy, Task, load_vine
from spreadsim.views.description import WIDTH, brief_cautions, describe, used_treatments


@pytest.fixture(scope="module")
def experiment():
    mat = np.zeros((50, 100))
    mat[:10, :10] = 0.5
    hosts = {"x": [5.0, 50.0, 60.0], "y": [5.0, 50.0, 60.0], "state": ["bare", "climbing", "fruiting"]}
    site = Site.from_arrays(2.0, mat=mat, hosts=hosts, title="Small wood", notice="The wood is invented.")
    tasks = [
        Task("cut", name="stems", targets="fruiting", years=(1, 5), share=0.5),
        Task("pull", new_ground=1000.0, follow_up=FollowUp(every=2, clean=3), seasons=("winter", "autumn")),
    ]
    return Experiment(
        "A small test",
        site,
        load_vine("wintercreeper"),
        (Crew("friends", {"winter": 10, "spring": 5, "summer": 0, "autumn": 20}, may=("cut", "pull")),),
        (Strategy("stems, then mats", tasks=tasks, why="Seed first."),),
        notice="All of it is invented.",
    )


def test_it_says_what_was_read(experiment):
    text = describe(experiment)
    assert max(len(line) for line in text.split("\n")) <= WIDTH
    joined = " ".join(text.split())
    for part in (
        "A small test",
        "All of it is invented.",
        "The wood is invented.",
        "Small wood, 2.00 ha in 100 x 50 cells of 2 m",
        "Living cover of mat: 200 m2",  # 100 cells x 4 m2 x .5
        "Hosts: 3, of which 2 climbed, of these 1 fruiting",
        "friends: hours winter 10, spring 5, summer 0, autumn 20; may do cut, pull",
        "Strategy: no action.",
        "Strategy: stems, then mats. Seed first.",
        "1. stems (cut), fruiting first, fruiting hosts only, from year 1 to 5, at most 50 % of the hours.",
        "2. pull, largest first, in winter and autumn, at most 1,000 m2 of new ground a year,"
        " follow-up every 2 seasons until clean 3 times running.",
        "30 years, 200 replicate worlds, seed 1.",
    ):
        assert part in joined, part


def test_units_of_the_country(experiment):
    joined = " ".join(describe(experiment, system="us").split())
    assert "Small wood, 4.94 acres in 100 x 50 cells of 6.56 ft" in joined
    assert "at most 10,800 ft2 of new ground" in joined


def test_every_caution_of_what_is_used_is_told_in_full(experiment):
    joined = " ".join(describe(experiment).split())
    used = used_treatments(experiment)
    assert [treatment.name for treatment in used] == ["cut", "pull"]
    for treatment in used:
        assert treatment.cautions
        for caution in treatment.cautions:
            assert caution in joined
    assert "label" not in joined  # nothing is sprayed here


def test_brief_cautions_are_each_said_once(experiment):
    brief = brief_cautions(experiment)
    assert len(brief) == len(set(brief)) and brief
    assert any("Never pull cut stems down" in text for text in brief)


def test_sprays_of_follow_up_and_of_unfit_days_count_as_used(experiment):
    task = Task("foliar-spray", instead="pull", follow_up=FollowUp(treatment="spot-spray"))
    crew = Crew("staff", 10, may=("all",))
    more = Experiment("t", experiment.site, experiment.vine, (crew,), (Strategy("s", tasks=[task]),))
    assert [treatment.name for treatment in used_treatments(more)] == ["foliar-spray", "pull", "spot-spray"]
    assert any("label is the law" in text for text in brief_cautions(more))
