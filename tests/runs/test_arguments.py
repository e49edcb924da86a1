"""Arguments that can't be used are `InputError`s that name the argument, what was found and what is allowed."""

from pathlib import Path
from typing import Any

import pytest

from spreadsim import Crew, InputError, Strategy, Task, compare, simulate

from .small import experiment

# argument: (value, what the message says was found, what it says is allowed)
REFUSED: dict[str, tuple[dict[str, Any], str, str]] = {
    "no replicates": ({"replicates": 0}, "replicates: found 0", "1 or more"),
    "fewer than none": ({"replicates": -3}, "replicates: found -3", "1 or more"),
    "half a replicate": ({"replicates": 2.5}, "replicates: found 2.5", "whole numbers"),
    "half a replicate's number": ({"replicates": [1.5]}, "replicates: found", "whole numbers"),
    "a text of replicates": ({"replicates": "12"}, "replicates: found '12'", "whole numbers"),
    "a truth value of replicates": ({"replicates": True}, "replicates: found True", "whole numbers"),
    "nothing of replicates": ({"replicates": None}, "replicates: found None", "whole numbers"),
    "an empty list of replicates": ({"replicates": []}, "replicates: found", "whole numbers"),
    "a replicate twice": ({"replicates": [4, 4]}, "replicates: found [4, 4]", "different whole numbers"),
    "a replicate below nil": ({"replicates": [-1]}, "replicates: found [-1]", "whole numbers from 0"),
    "a replicate beyond the key": ({"replicates": [2**32]}, "replicates: found [4294967296]", "whole numbers from 0"),
    "unknown maps": ({"maps": "all"}, "maps: found 'all'", "none, mean, replicate"),
    "no word for maps": ({"maps": None}, "maps: found None", "none, mean, replicate"),
    "unknown process": ({"processes": ["mat", "weeds"]}, "processes: found 'weeds'", "climbing"),
    "seed below nil": ({"seed": -1}, "seed: found -1", "0 to 4294967295"),
    "seed beyond the key": ({"seed": 2**32}, "seed: found 4294967296", "0 to 4294967295"),
    "seed with a fraction": ({"seed": 1.5}, "seed: found 1.5", "whole"),
    "no years": ({"years": 0}, "years: found 0", "1 to 400"),
    "too many years": ({"years": 401}, "years: found 401", "1 to 400"),
    "a fraction of years": ({"years": 1.5}, "years: found 1.5", "whole"),
    "a strategy's name": ({"strategy": "cut"}, 'found "cut"', "a Strategy"),
    "a crew that is none": ({"crews": [3]}, "crews[0]: found 3", "a Crew"),
    "a crew without a list": ({"crews": Crew("a", 1)}, "crews: found", "Crew"),
    "weather that is none": ({"weather": (1, 2, 3, 4)}, "weather: found (1, 2, 3, 4)", "a Weather"),
    "fixed by a word": ({"fixed_parameters": "yes"}, 'fixed_parameters: found "yes"', "true or false"),
    "a treatment's name": ({"treatments": ["cut"]}, 'treatments[0]: found "cut"', "a Treatment"),
    "a vine's name": ({"vine": "wintercreeper"}, 'vine: found "wintercreeper"', "a Vine"),
    "no site": ({"site": None}, "site: found", "a Site"),
    "threads below nil": ({"workers": -1}, "workers: found -1", "1 or more"),
    "a fraction of threads": ({"workers": 1.5}, "workers: found 1.5", "1 or more"),
    "work in no action": (
        {"strategy": Strategy("no action", tasks=[Task("cut")]), "crews": [Crew("a", 1)]},
        "strategies[0].tasks: found 1 task",
        'none in "no action"',
    ),
    "work without a crew": (
        {"strategy": Strategy("x", tasks=[Task("cut")])},
        'treatment: found "cut"',
        "since there are no crews",
    ),
    "an unknown treatment": (
        {"strategy": Strategy("x", tasks=[Task("burn")]), "crews": [Crew("a", 1)]},
        'treatment: found "burn"',
        "pull",
    ),
    "an unknown unit": (
        {"strategy": Strategy("x", tasks=[Task("cut", units=["glade"])]), "crews": [Crew("a", 1)]},
        'units[0]: found "glade"',
        "unit 3",
    ),
    "years after the end": (
        {"strategy": Strategy("x", tasks=[Task("cut", years=(3, 4))]), "crews": [Crew("a", 1)], "years": 2},
        "years[0]: found 3",
        "1 to 2",
    ),
}


@pytest.mark.parametrize("what", REFUSED)
def test_simulate_refuses_what_it_cannot_use(what: str):
    changes, found, allowed = REFUSED[what]
    case = experiment()
    arguments = {"site": case.site, "vine": case.vine, "years": 1, "replicates": 1, "seed": 1}
    with pytest.raises(InputError) as caught:
        simulate(**(arguments | changes))
    message = str(caught.value)
    assert found in message
    assert allowed in message


def test_the_arguments_that_are_refused_are_good_otherwise():
    case = experiment()
    data = simulate(case.site, case.vine, years=1, replicates=1, seed=1)
    assert data["mat_area"].shape == (1, 2)


# None stands for the experiment's own number
SHARED = [
    key
    for key, value in REFUSED.items()
    if set(value[0]) <= {"replicates", "seed", "workers"} and None not in value[0].values()
]


@pytest.mark.parametrize("what", SHARED)
def test_compare_refuses_what_it_cannot_use(what: str):
    changes, found, allowed = REFUSED[what]
    with pytest.raises(InputError) as caught:
        compare(experiment(), **({"replicates": 1} | changes))
    assert found in str(caught.value)
    assert allowed in str(caught.value)


def test_compare_refuses_what_is_no_experiment():
    with pytest.raises(InputError, match=r"experiment: found .* an Experiment"):
        compare("experiment.toml")  # type: ignore[arg-type]


def test_resume_needs_a_folder():
    with pytest.raises(InputError, match="resume: found True without a folder"):
        compare(experiment(), replicates=1, resume=True)


def test_a_refused_comparison_leaves_no_folder(tmp_path: Path):
    with pytest.raises(InputError):
        compare(experiment(), replicates=0, folder=tmp_path / "new")
    assert not (tmp_path / "new").exists()
