"""Benchmarks: all of them run, both sides of each ratio do the same job, and the page says what was measured.

No clock is asserted: whether a target is met is for the benchmarks themselves to say.
"""

import importlib
import math
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import numpy as np
import pytest

import spreadsim

FOLDER = Path(__file__).parent.parent / "experiments" / "benchmark"
SCRIPTS = ("start", "flagship", "mat_alone", "agents", "landscape", "by_process")


def module(name: str) -> ModuleType:
    """One of the benchmarks' modules, with its neighbours within reach while it loads."""
    before = set(sys.modules)
    sys.path.insert(0, str(FOLDER))
    try:
        return importlib.import_module(name)
    finally:
        sys.path.remove(str(FOLDER))
        # their names are plain ones: leave none behind for other tests
        for new in set(sys.modules) - before:
            if Path(getattr(sys.modules[new], "__file__", None) or "").parent == FOLDER:
                del sys.modules[new]


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> str:
    """What run_all writes of the smallest sizes."""
    out = tmp_path_factory.mktemp("benchmarks") / "results.md"
    command = [sys.executable, str(FOLDER / "run_all.py"), "--smoke", "--out", str(out)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    return out.read_text(encoding="utf-8")


def figures(page: str) -> dict[str, float]:
    """Figures of the page by what was measured."""
    cells = [line.strip("| ").split(" | ") for line in page.splitlines() if line.startswith("| ")]
    return {row[0]: float(row[1].replace(",", "")) for row in cells if row[0] != "what"}


def one(found: dict[str, float], start: str, end: str) -> float:
    """The one figure whose name starts and ends so."""
    values = [value for name, value in found.items() if name.startswith(start) and name.endswith(end)]
    assert len(values) == 1, (start, end, sorted(found))
    return values[0]


@pytest.mark.parametrize("name", SCRIPTS)
def test_each_script_gives_figures_and_says_what_it_takes(
    page: str, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    section = page.split(f"## {name}.py")[1].split("## ")[0]
    values = figures(section)
    assert len(values) >= 3 and all(math.isfinite(value) for value in values.values())
    assert any("| times |" in line for line in section.splitlines())  # a ratio of two measurements
    script = module(name)
    with pytest.raises(SystemExit) as left:
        script.main(["--help"])
    assert left.value.code == 0
    said = capsys.readouterr().out
    assert "--json" in said and script.__doc__.strip() in said


def test_targets_stand_first_with_what_was_measured(page: str) -> None:
    targets = page.split("## Targets")[1].split("## ")[0]
    judged = [line for line in targets.splitlines() if line.endswith(("| yes |", "| no |"))]
    assert len(judged) >= 4 and "a check, not a claim" in page


def test_lattice_and_agents_spread_as_ours_does(page: str) -> None:
    found = figures(page)
    ours, lattice = (one(found, "mat alone", f"at the start, {side}") for side in ("ours", "lattice"))
    assert ours > 1.2 and lattice > 1.2 and 0.5 < ours / lattice < 2.0
    ours, agents = (one(found, "mat and hosts", f"at the start, {side}") for side in ("ours", "agents"))
    assert ours > 1.2 and agents > 1.2 and 0.5 < ours / agents < 2.0


def test_a_larger_landscape_holds_the_same_vine(page: str) -> None:
    assert 0.8 < one(figures(page), "landscape, 4 ha / 1 ha", "infested area at the end") < 1.25


def test_front_of_the_lattice_runs_at_the_speed_asked_for() -> None:
    lattice = module("lattice")
    shares = (0.05, 0.45, 0.4, 0.1)
    start = np.zeros((12, 260))
    start[:, :4] = 1.0
    ground = lattice.Lattice(np.zeros(start.shape), np.ones(start.shape), start, 2.0, shares)
    for speed in (0.3, 0.5, 1.0):
        numbers = {"front_speed": speed, "cover_doubling_time": 1.0, "shade_factor": 0.5, "density_on_arrival": 0.05}
        ground.prepare(numbers)
        counts = ground.run(30)
        # a pulled front comes up to its speed slowly: by 3 / (2 w t), a tenth of it in these years
        ran = (counts[30] - counts[10]) / 12 * 2.0 / 20
        assert 0.75 * speed < ran < 1.05 * speed
    with pytest.raises(ValueError, match="years: found 300"):
        ground.run(300)


def test_lattice_is_what_its_page_says() -> None:
    lattice = module("lattice")
    rng = np.random.default_rng(3)
    canopy, plantable = rng.random((9, 11)), (rng.random((9, 11)) > 0.2) * 1.0
    start = (rng.random((9, 11)) < 0.1) * plantable
    shares = (0.05, 0.45, 0.4, 0.1)
    numbers = {"front_speed": 0.8, "cover_doubling_time": 1.0, "shade_factor": 0.5, "density_on_arrival": 0.05}
    ground = lattice.Lattice(canopy, plantable, start, 2.0, shares)
    ground.prepare(numbers)
    counts = ground.run(5)
    k, r = lattice.pressure_rate(0.8, 1.0, shares, 2.0), math.log(2.0)
    cover = np.pad(start, 1)
    light = np.pad(plantable * (1.0 - canopy * 0.5), 1)
    slow = [np.sum(cover >= 0.05)]
    for _ in range(5):
        for share in shares:
            around = sum(np.roll(cover, (i, j), (0, 1)) for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j)
            cover = cover + (1.0 - cover) * light * share * (r * cover + k * around)
        slow.append(np.sum(cover >= 0.05))
    assert counts.tolist() == slow and slow[-1] > slow[0]
    assert np.allclose(ground.cover.reshape(11, 13), cover, rtol=1e-4, atol=1e-6)


def test_drawn_ground_is_as_asked_and_the_same_at_every_size() -> None:
    sites = module("sites")
    flagship = sites.draw_site(40, share=0.02)
    assert (flagship.ny, flagship.nx, len(flagship.hosts)) == (250, 400, 12_000)
    assert np.sum(flagship.mat > 0) == 2000 and "invented" in flagship.notice.lower()
    assert np.sum(flagship.hosts.state == 2) >= 3 and np.sum(flagship.hosts.state == 1) >= 10
    small, large = (sites.draw_site(size, infested=1000.0, middle=4, patches=6) for size in (4, 25))
    x, y = sites.middle_of(large)
    row, column = large.ny - round(y / 2) - 50, round(x / 2) - 50
    window = np.s_[row : row + 100, column : column + 100]
    for name in ("mat", "canopy", "plantable", "unit", "access", "wetness", "sensitive"):
        assert np.array_equal(getattr(large, name)[window], getattr(small, name)), name
    assert large.mat.sum() == small.mat.sum() > 0
    first = slice(0, len(small.hosts))
    assert np.allclose(large.hosts.x[first] - x, small.hosts.x - 100.0)
    assert np.array_equal(large.hosts.state[first], small.hosts.state)
    assert np.sum(large.hosts.state) == np.sum(small.hosts.state) > 0
    assert large.background_seed * large.area == pytest.approx(small.background_seed * small.area)


def test_flagship_has_everything_in_it() -> None:
    site = module("sites").draw_site(2, share=0.05, patches=4)
    asked = module("plans").experiment(site, years=6)
    assert len(asked.strategies) == 6 and asked.strategies[0].name == "no action"
    assert len(asked.crews) == 3 and asked.funds and len(asked.events) == 2 and len(site.sources) == 3
    outcomes = spreadsim.compare(asked, replicates=2)
    hours = outcomes.hours.sum(["replicate", "year", "season", "task"])
    assert float(hours.sel(strategy="no action")) == 0.0 and np.all(hours[1:] > 0.0)
    assert set(outcomes.occupancy.dims) == {"strategy", "year", "y", "x"}


@pytest.mark.slow
def test_start_times_a_first_result(capsys: pytest.CaptureFixture[str]) -> None:
    experiment = FOLDER.parent / "too-much-ground" / "experiment.toml"
    asked = ["--times", "1", "--helps", "1", "--replicates", "1", "--no-cold", "--experiment", str(experiment)]
    module("start").main(asked)
    said = capsys.readouterr().out
    assert "start: too-much-ground's first result, warm cache: " in said
    assert "start: too-much-ground's first result, warm cache / bare Python: " in said and "cold" not in said


def test_a_row_knows_whether_its_target_is_met(capsys: pytest.CaptureFixture[str]) -> None:
    report = module("report")
    rows = [
        report.Row("fast enough", 30.0, "times", least=25.0),
        report.Row("too much", 700.0, "MiB", most=600.0),
        report.Row("told", 1234.5, "ms"),
    ]
    assert [row.met for row in rows] == ["yes", "no", ""]
    report.tell(rows)
    assert capsys.readouterr().out.splitlines() == [
        "fast enough: 30 times  [at least 25: yes]",
        "too much: 700 MiB  [at most 600: no]",
        "told: 1,234 ms",
    ]


def test_a_script_that_fails_is_named_on_the_page(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    every = module("run_all")
    monkeypatch.setitem(every.SETTINGS["smoke"], "mat_alone", "--no-such-option")
    with pytest.raises(SystemExit) as left:
        every.main(["--smoke", "--only", "mat_alone", "--out", str(tmp_path / "page.md")])
    assert left.value.code == 1
    assert "no-such-option" in (tmp_path / "page.md").read_text(encoding="utf-8")
