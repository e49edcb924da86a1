"""Warnings: each odd thing is noticed, and nothing is said of what is in order."""

import numpy as np
import pytest

from spreadsim.errors import InputError
from spreadsim.inputs import Crew, Experiment, Site, Strategy, Task, load_vine, read_site
from spreadsim.inputs.remarks import remarks_on

SHAPE = (20, 30)
HOSTS = {"x": [5.0, 20.0, 50.0], "y": [5.0, 6.0, 30.0], "state": ["bare", "climbing", "fruiting"]}


def remarks(site=None, crews=None, tasks=("cut",), **layers):
    if site is None:
        given = {"hosts": HOSTS, "mat": some(0.1), **layers}
        site = Site.from_arrays(2.0, **{name: value for name, value in given.items() if value is not None})
    crews = (Crew("staff", 10),) if crews is None else crews
    strategies = [Strategy("work", tasks=[task if isinstance(task, Task) else Task(task) for task in tasks])]
    return remarks_on(Experiment("Test", site, load_vine("wintercreeper"), crews, strategies))


def some(share, value=1.0):
    layer = np.zeros(SHAPE)
    layer.ravel()[: int(share * layer.size)] = value
    return layer


def test_what_is_in_order_gets_no_remark():
    assert remarks(units=np.ones(SHAPE), unit_names=["all of it"]) == []


def hosts(x, y):
    return {"x": x, "y": y}


@pytest.mark.parametrize(
    ("case", "said"),
    [
        ({"hosts": None}, "nothing to climb"),
        ({"hosts": hosts([1.0], [1.0]), "mat": np.zeros(SHAPE)}, "known nowhere"),
        ({"hosts": hosts([1.0], [1.0]), "mat": np.zeros(SHAPE), "background_seed": 3.0}, "from outside"),
        ({"hosts": hosts([5.0, 5.0, 9.0], [7.0, 7.0, 9.0])}, "1 where another one stands already, at (5.0, 7.0)"),
        ({"hosts": hosts(np.linspace(7.40, 7.41, 8), np.linspace(30.1, 30.11, 8))}, "in degrees"),
        ({"mat": some(1.0)}, "more than 90 %"),
        ({"canopy": some(1.0, 0.008)}, "divided by 100"),
        ({"units": some(1.0), "unit_names": ["here", "gone"]}, 'unit "gone": it has no ground'),
        ({"units": some(1.0), "unit_names": ["far"], "access": some(1.0, 40)}, "no access to speak of"),
        ({"units": some(0.5), "unit_names": ["half"]}, "50 % of the ground lies in none"),
        ({"plantable": 1 - some(0.5), "units": some(0.5), "unit_names": ["pond"]}, "the vine can grow nowhere in it"),
        ({"crews": (Crew("staff", 10), Crew("idle", 0))}, 'crew "idle": it has 0 hours'),
        ({"crews": (Crew("staff", 10), Crew("mowers", 9, may="mow"))}, 'crew "mowers": no strategy'),
        (
            {"crews": (Crew("staff", {"summer": 5}),), "tasks": (Task("pull", seasons=("winter",)),)},
            "no hours in winter",
        ),
        ({"tasks": (Task("cut", share=0),)}, "0 hours"),
        ({"tasks": ()}, "none has a task"),
    ],
)
def test_each_odd_thing_is_noticed(case, said):
    found = remarks(**case)
    assert any(said in remark for remark in found), found


def test_hosts_in_the_water_look_swapped_where_that_would_mend_it():
    ground = np.ones(SHAPE)
    ground[:, 20:] = 0
    points = hosts(np.full(9, 35.0) + np.linspace(6, 20, 9) / 100 + 5.5, np.linspace(2, 38, 9))
    swapped = remarks(hosts=points, plantable=ground, mat=some(0.02))
    assert any("stand where the vine cannot grow" in remark for remark in swapped)
    wide = np.zeros((40, 40))
    wide[:, :10] = 1
    points = hosts(np.linspace(30, 70, 9), np.linspace(2, 15, 9))
    found = remarks(Site.from_arrays(2.0, plantable=wide, hosts=points, mat=wide * 0.5))
    assert any("x and y look swapped" in remark for remark in found)


def write(tmp_path, totals):
    (tmp_path / "hosts.csv").write_text("x,y,state\n5,5,climbing\n9,9,fruiting\n20,20,bare\n")
    (tmp_path / "mats.csv").write_text("x,y,radius,cover\n30,30,10,1\n")
    text = 'cell_size = 2\nwidth = 100\nheight = 100\nhosts = "hosts.csv"\nmats = "mats.csv"\n[totals]\n'
    (tmp_path / "site.toml").write_text(text + totals)
    return read_site(tmp_path / "site.toml")


def test_totals_are_held_against_the_map(tmp_path):
    right = write(tmp_path, 'area = 1\nmat_area = "310 m2"\nhosts = 3\nclimbed = 2\nfruiting = 1\n')
    assert remarks(right) == []
    wrong = write(tmp_path, 'area = "3 acre"\nmat_area = "400 m2"\nhosts = 3\nclimbed = 3\nfruiting = 1\n')
    found = remarks(wrong)
    assert len(found) == 3 and all("more than 10 % apart" in remark for remark in found)
    assert [remark.split(":")[0] for remark in found] == ["totals.area", "totals.mat_area", "totals.climbed"]


def test_totals_that_are_no_totals_are_errors(tmp_path):
    with pytest.raises(InputError) as error:
        write(tmp_path, 'area = "much"\nmat_area = [1]\nhosts = -3\ntrees = 5\n')
    assert len(error.value.problems) == 4 and "a number of ha" in str(error.value)


@pytest.mark.parametrize(
    ("points", "said"),
    [
        (hosts([10.0, 30.0], [55.0, 20.0]), "x and y look swapped"),
        (hosts([-122.7, -122.6], [45.5, 45.51]), "they look like degrees"),
        (hosts([500.0, 3.0], [5.0, 5.0]), "on the site"),
    ],
)
def test_hosts_off_the_site_are_errors_with_what_they_look_like(points, said):
    with pytest.raises(InputError) as error:
        Site.from_arrays(2.0, mat=some(0.1), hosts=points)
    assert said in str(error.value)
    assert ("look" in str(error.value)) == ("look" in said)
