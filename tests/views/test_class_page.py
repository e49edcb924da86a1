"""The class page without a browser: who serves which step, what is sent, what is said, what is refused."""

import dataclasses
import zlib
from base64 import b64decode, b64encode
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import spreadsim
from spreadsim import Crew, Experiment, FollowUp, Site, Strategy, Task, cli, load_vine
from spreadsim.views import class_page as pages
from spreadsim.views.class_page import changes, page, reel, words
from spreadsim.views.class_page.averages import averages
from spreadsim.views.class_page.steps import WITHOUT

DEMO = Path(__file__).parents[2] / "experiments" / "cut-or-clear"
BACK = FollowUp(4, 2)
CUT = Strategy("stems", tasks=[Task("cut", follow_up=BACK), Task("pull", years=(4, None))])
CLEAR = Strategy("ground", tasks=[Task("cut", years=(3, None)), Task("pull")])
BOTH = Strategy("all at once", tasks=[Task("cut"), Task("pull")])
CARE = Strategy(
    "with care", tasks=[Task("scout", share=0.2), Task("cut", follow_up=BACK), Task("pull", follow_up=BACK)]
)


def experiment(*strategies: Strategy, years: int = 8, shape: tuple[int, int] = (6, 8)) -> Experiment:
    ground = Site.from_arrays(5.0, mat=np.full(shape, 0.5), title="Small <wood>")
    crews = (Crew("staff", 10, may=("all",)),)
    return Experiment("Invented", ground, load_vine("wintercreeper"), crews, strategies, years=years, replicates=4)


def decoded(data: bytes) -> list[int]:
    """Whole numbers, written anew from what changes.py promises."""
    found, value, shift = [], 0, 0
    for byte in data:
        value += (byte & 127) << shift
        shift += 7
        if byte < 128:
            found.append(value)
            value = shift = 0
    return found


def test_numbers_come_back() -> None:
    values = [0, 1, 127, 128, 300, 16383, 16384, 2**40]
    assert decoded(changes.numbers(values)) == values
    assert changes.numbers([]) == b"" and len(changes.numbers([127, 128])) == 3


def test_changes_come_back() -> None:
    rng = np.random.default_rng(3)
    states = rng.integers(0, 3, (9, 400)).astype("u1")
    states[4] = states[3]
    many, gaps, codes = changes.changes(states)
    counts, gaps = decoded(many), decoded(gaps)
    now, at = np.zeros(400, "u1"), 0
    for step, n in enumerate(counts):
        places = np.cumsum(gaps[at : at + n], dtype=int)
        now[places] = np.frombuffer(codes[at : at + n], "u1")
        at += n
        assert np.array_equal(now, states[step])
    assert counts[4] == 0 and at == len(codes)


def test_parts_come_back() -> None:
    parts = [b"", b"one", bytes(range(256)) * 40]
    whole = zlib.decompress(b64decode(changes.as_text(parts)))
    found, at = [], 0
    while at < len(whole):
        length = int.from_bytes(whole[at : at + 4], "little")
        found.append(whole[at + 4 : at + 4 + length])
        at += 4 + length
    assert found == parts


def test_strategies_serve_steps_by_what_they_do() -> None:
    steps, missing = pages.choose_steps(experiment(CUT, CLEAR, BOTH, CARE))
    assert missing == {}
    assert {step.key: (step.left, step.right, step.years) for step in steps} == {
        "vote": ("stems", "ground", 8),
        "seed": ("no action", "stems", 3),
        "cutting": ("stems", "all at once", 3),
        "clearing": ("ground", "all at once", 2),
        "return": ("with care", WITHOUT.format(name="with care"), 8),
        "home": ("no action", "with care", 8),
    }
    assert len(steps) <= 6 and sum(words.STEPS[step.key].minutes for step in steps) == 45


@pytest.mark.parametrize(
    ("strategies", "left_out"),
    [
        ((CUT, CARE), {"vote", "clearing"}),
        ((BOTH,), {"vote", "cutting", "clearing", "return"}),
        ((), {"vote", "seed", "cutting", "clearing", "return", "home"}),
        (
            (Strategy("late", tasks=[Task("cut", years=(5, None))]),),
            {"vote", "seed", "cutting", "clearing", "return", "home"},
        ),
    ],
)
def test_a_step_that_nobody_serves_is_left_out_with_a_reason(strategies, left_out) -> None:
    steps, missing = pages.choose_steps(experiment(*strategies))
    assert set(missing) == left_out and all("needs" in reason for reason in missing.values())
    assert {step.key for step in steps} == set(words.STEPS) - left_out


def test_nobody_looks_or_goes_back_in_the_strategy_made_for_it() -> None:
    own = experiment(CUT, CARE)
    wanted = pages.films_wanted(own)
    assert wanted.strategies[:-1] == own.strategies
    made = wanted.strategies[-1]
    assert [task.treatment for task in made.tasks] == ["cut", "pull"]
    assert all(task.follow_up is None for task in made.tasks)
    assert pages.films_wanted(experiment(BOTH)).strategies == experiment(BOTH).strategies


def test_coarse_cells_keep_mat_and_barriers() -> None:
    assert reel.coarseness(200, 300) == 1 and reel.coarseness(1000, 1000) == 3
    layer = np.arange(35.0).reshape(5, 7)
    sums = reel.blocks(layer, 3, np.add)
    assert sums.shape == (2, 3) and sums.sum() == layer.sum()
    assert sums[0, 0] == layer[:3, :3].sum() and sums[1, 2] == layer[3:, 6:].sum()


def test_levels_say_how_closed_the_mat_is_and_what_is_known() -> None:
    cover = np.array([[[0, 1, 40, 60, 151, 250]]], "u1")
    unknown = np.array([[[False, True, False, False, True, False]]])
    levels = reel._levels(cover, unknown, 1)
    assert levels.ravel().tolist() == [0, 1 | 4, 1, 2, 3 | 4, 3]
    assert reel._levels(cover, unknown, 2).ravel().tolist() == [1 | 4, 2 - 1, 3]


def outcomes(left: list[float]) -> xr.Dataset:
    by = ("strategy", "replicate", "year")
    area = np.zeros((2, len(left), 2))
    area[0, :, 1] = left
    return xr.Dataset(
        {"infested_area": (by, area)}, {"strategy": ["cut", "no action"], "replicate": np.arange(len(left)) + 10}
    )


def test_runs_of_luck_differ_and_the_ordinary_one_comes_first() -> None:
    data = outcomes(list(range(11))).isel(strategy=[1, 0])
    data["infested_area"][0, :, 1] = np.arange(11)[::-1]
    chosen = pages.choose_lucks(data, 3)
    assert chosen == [15, 19, 11]  # the middle one, a mild and a bad one of 10 (worst) to 20
    assert pages.choose_lucks(data, 7)[-2:] == [20, 10]
    assert pages.choose_lucks(outcomes([1.0]), 4) == [10]


def test_averages_are_those_of_the_comparison() -> None:
    data = spreadsim.compare(experiment(BOTH), replicates=3, workers=1)
    found = averages(data, 2.0)
    assert set(found) == {"no action", "all at once"}
    mean = 2.0 * data["mat_area"].sel(strategy="all at once").mean("replicate").values
    assert np.allclose(found["all at once"]["mat_area"], mean, atol=0.051)
    total = float(data["hours"].sel(strategy="all at once").sum(["year", "season", "task"]).mean())
    assert abs(found["all at once"]["hours"][-1] - total) < 0.051


@pytest.fixture(scope="module")
def made() -> tuple[Experiment, xr.Dataset, list[pages.Reel]]:
    own = experiment(CUT, CARE)
    wanted = pages.films_wanted(own)
    film = spreadsim.film(wanted, replicates=[0, 1, 2], workers=1)
    return own, spreadsim.compare(own, workers=1), [pages.reel_of(film, s.name, wanted) for s in wanted.strategies]


def test_the_page_hashes_its_script_and_tells_the_teacher_what_is_left_out(made) -> None:
    own, data, reels = made
    text = pages.class_page(own, data, reels, system="us")
    assert "Small &lt;wood&gt;" in text and "<wood>" not in text
    script = text.rpartition("<script>")[2].partition("</script>")[0]
    assert "'sha256-" + b64encode(sha256(script.encode()).digest()).decode() + "'" in text
    assert 'The step "Only clear" is left out' in text and 'The step "Only cut"' not in text
    assert " ft by " in text and "does not forecast" in text
    for treatment in ("cut", "pull"):
        assert all(caution.replace("'", "&#39;") in text for caution in spreadsim.load_treatment(treatment).cautions)


def test_a_page_that_would_be_too_large_shows_fewer_runs_of_luck(made, monkeypatch) -> None:
    own, data, reels = made
    whole = len(pages.class_page(own, data, reels).encode())
    monkeypatch.setattr(page, "MOST_BYTES", whole - 1)
    smaller = pages.class_page(own, data, reels)
    assert len(smaller.encode()) < whole
    monkeypatch.setattr(page, "MOST_BYTES", 1000)
    with pytest.raises(spreadsim.InputError, match=r"class page: found 0.0 MB for one run of luck .* allowed 5 MB"):
        pages.class_page(own, data, reels)


def test_sentences_tell_a_tie_as_a_tie(made) -> None:
    _, _, reels = made
    by_name = {one.strategy: one for one in reels}
    step = pages.Step("vote", "stems", "stems", 8)
    assert all("about the same on both sides" in text for text in words.shows(step, by_name, "metric"))
    assert words.area(12345.0, "metric") == "12,300 m²" and words.area(7.4, "metric") == "7 m²"
    assert words.area(100.0, "us") == "1,080 sq ft"


def test_reels_of_different_replicates_join(made) -> None:
    own, _, reels = made
    wanted = pages.films_wanted(own)
    name = wanted.strategies[1].name
    parts = [pages.reel_of(spreadsim.film(wanted, replicates=[r], strategies=[name]), name, wanted) for r in range(3)]
    joined = pages.joined(parts)
    assert joined.replicates == (0, 1, 2) and joined.parts == reels[1].parts


def test_the_command_refuses_what_it_cannot_use(tmp_path, capsys) -> None:
    assert cli.main(["lesson", str(tmp_path)]) == 2
    assert "outcomes.nc" in capsys.readouterr().err
    assert cli.main(["lesson", str(tmp_path / "none.toml")]) == 2
    data = spreadsim.compare(experiment(BOTH), folder=tmp_path, replicates=2, workers=1)
    data.close()
    assert cli.main(["lesson", str(tmp_path), "--replicates", "5"]) == 2
    assert "--replicates: found 5 with results" in capsys.readouterr().err
    assert cli.main(["lesson", str(tmp_path), "--lucks", "9"]) == 2


def test_the_command_says_what_it_left_out(tmp_path, capsys) -> None:
    spreadsim.compare(experiment(BOTH), folder=tmp_path, replicates=2, workers=1).close()
    out = tmp_path / "new" / "page.html"
    assert cli.main(["lesson", str(tmp_path), "--out", str(out)]) == 0
    told = capsys.readouterr().out
    assert str(out) in told and "2 steps, 2 strategies" in told and "Left out: step vote" in told
    assert max(map(len, told.replace(str(out), "").splitlines())) <= 80
    assert out.stat().st_size < 200_000 and [path.name for path in out.parent.iterdir()] == ["page.html"]


def test_the_page_of_the_demo_ships_built_by_what_is_here() -> None:
    built = (DEMO / "lesson.html").read_text(encoding="utf-8")
    assert len(built.encode()) < 1_500_000
    for name in ("lesson.css", *(f"{script}.js" for script in page._SCRIPTS)):
        assert (Path(page.__file__).parent / name).read_text(encoding="utf-8") in built, f"{name} changed: build anew"
    own = spreadsim.read_experiment(DEMO / "experiment.toml")
    assert (DEMO / "handout.html").read_text(encoding="utf-8") == pages.handout(dataclasses.replace(own))
    assert all(words.STEPS[step.key].tab in built for step in pages.choose_steps(own)[0])
