"""The brief without a browser: what is said under which outcomes, what is left out, what is run again."""

import dataclasses
import html
import re
from base64 import b64encode
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest
import xarray as xr

import spreadsim
from spreadsim import Crew, Experiment, FollowUp, Site, Strategy, Task, cli, decide, load_vine, make_goals
from spreadsim.analysis.summary import summarise
from spreadsim.inputs.task import kind_of_work
from spreadsim.planning.briefing import Beginning, Entry, Work, beginning, if_money_stops
from spreadsim.views.brief import brief_page, options, rests, words
from spreadsim.views.brief.answer import Answer, answer
from spreadsim.views.brief.at_once import all_at_once
from spreadsim.views.brief.charts import hours_by_year
from spreadsim.views.brief.facts import Facts
from tests.analysis.synthetic import NAMES, outcomes

STEMS, MATS, BOTH = NAMES[1:]
WORLDS, YEARS = 24, 10
SITE = "<script>alert('site')</script> & wood"


def invented(units: bool = True) -> Experiment:
    """Two units side by side with mat and hosts in the west one only; the strategies of the synthetic outcomes."""
    mat = np.zeros((12, 24))
    mat[3:9, 1:8] = 0.9
    x, y = np.meshgrid(np.arange(8, 120, 16.0), np.arange(10, 60, 20.0))
    hosts = {
        "x": x.ravel(),
        "y": y.ravel(),
        "state": np.where(x.ravel() < 45, "fruiting", "bare"),
        "kind": ["tree"] * x.size,
        "top_light": np.full(x.size, 0.9),
    }
    unit = np.where(np.arange(24) < 12, 1, 2)[None, :].repeat(12, axis=0)
    ground = Site.from_arrays(5.0, mat=mat, hosts=hosts, title=SITE, units=unit if units else None)
    if units:
        ground = dataclasses.replace(ground, unit_names=("west", "east"))
    back = FollowUp(4, 2)
    cut, pull = Task("cut", follow_up=back), Task("pull", follow_up=back)
    strategies = (
        Strategy(STEMS, tasks=[cut, pull], why="Because <b>."),
        Strategy(MATS, tasks=[pull, cut]),
        Strategy(BOTH, tasks=[cut, pull]),
    )
    crews = (Crew("staff", 30, may=("all",), price=30), Crew("friends", 10, may=("cut", "pull"), paid=False))
    return Experiment(
        "A <b>title</b>", ground, load_vine("wintercreeper"), crews, strategies, years=YEARS, replicates=6, seed=4,
        notice="Invented.",
    )  # fmt: skip


EXPERIMENT = invented()


KEPT = ("mat_area", "seeds_exported", "fruiting_hosts", "infested_area", "hours", "cost", "mat.front_speed")


def made(**given: object) -> xr.Dataset:
    """Synthetic outcomes, few of them: statistics of each take their time."""
    return outcomes(replicates=WORLDS, years=YEARS, **given)[list(KEPT)]


def facts_of(dataset: xr.Dataset, goals: dict | None = None, system: str = "metric", **changes: object) -> Facts:
    decision = decide(dataset, make_goals(goals) if goals else None)
    facts = Facts(dataset, EXPERIMENT, decision, summarise(dataset), None, None, 5, system)
    return dataclasses.replace(facts, **changes)


def told(dataset: xr.Dataset, goals: dict | None = None, **changes: object) -> Answer:
    return answer(facts_of(dataset, goals, **changes))


def seeds(*numbers: float) -> dict[str, float]:
    return dict(zip(NAMES, numbers, strict=True))


@pytest.fixture(scope="module")
def usual() -> xr.Dataset:
    return made()


@pytest.fixture(scope="module")
def facts(usual: xr.Dataset) -> Facts:
    return facts_of(usual)


@pytest.fixture(scope="module")
def unsure() -> xr.Dataset:
    """All options alike but for luck."""
    same = dict.fromkeys(NAMES, 1000.0)
    return made(seeds=same, area=dict.fromkeys(NAMES, 2.0), noise=0.3)


def test_the_answer_follows_the_outcomes(facts: Facts) -> None:
    first = answer(facts)
    assert first.first == f'Start with "{BOTH}".'
    assert "ery likely: better in all 24 worlds" in " ".join(first.why) and f'"{STEMS}"' in first.sure[0]
    other = told(made(seeds=seeds(9000, 100, 6000, 4000), area=seeds(3.4, 0.2, 1.2, 0.7)))
    assert other.first == f'Start with "{STEMS}".'
    assert other.why != first.why and other.sure != first.sure
    assert other.begin[0].startswith("cut: ") and other.begin[0].endswith("200 h on average (200 to 200) in year 1")


def test_what_the_sentences_say_is_what_the_worlds_hold(usual: xr.Dataset, facts: Facts) -> None:
    total = usual["seeds_exported"].sel(year=slice(1, None)).sum("year")
    wins = int((total.sel(strategy=BOTH) < total.sel(strategy=STEMS)).sum())
    assert f"better in {round(100 * wins / WORLDS)} %" in answer(facts).sure[0] or wins == WORLDS
    mean = float((total.sel(strategy=STEMS) - total.sel(strategy=BOTH)).mean())
    stated = float(re.search(r"by ([\d,]+) seeds on average", answer(facts).sure[0])[1].replace(",", ""))
    assert stated == pytest.approx(mean, rel=0.005)
    table = options.options(facts)
    at = next(k for k, head in enumerate(table["heads"]) if head.startswith("Chance of fewer than 5"))
    fruiting = usual["fruiting_hosts"].sel(year=slice(5, None))
    for row in table["rows"]:
        share = float((fruiting.sel(strategy=row[0]) < 5).all("year").mean())
        assert row[at][0] == f"{round(100 * share)} %"
    assert [row[0] for row in table["rows"]] == facts.ranked and table["chosen"] == BOTH


def test_where_nothing_is_sure_it_says_so(unsure: xr.Dataset) -> None:
    facts = facts_of(unsure)
    found = answer(facts)
    assert found.first.startswith("Nothing is sure") and found.begin == []
    assert not any("Because" in text for text in found.why)
    assert found.sure[0].startswith("Not sure")
    assert options.options(facts)["chosen"] == ""


def test_two_that_cannot_be_told_apart_are_both_named() -> None:
    close = outcomes(
        replicates=WORLDS, years=YEARS, seeds=seeds(9000, 500, 6000, 500), area=seeds(3.4, 0.7, 1.2, 0.7), noise=0.2
    )
    found = told(close)
    assert STEMS in found.first and BOTH in found.first and "cannot tell which is better" in found.first
    assert "they begin alike" in found.first
    assert found.sure[0].startswith("Not sure")


def test_no_action_may_be_best() -> None:
    facts = facts_of(made(seeds=seeds(100, 500, 6000, 900), area=seeds(0.1, 3.0, 2.0, 1.0)))
    found = answer(facts)
    assert found.first == "Leave it alone rather than do any of this." and found.begin == []
    assert words.order_of_work(facts)["rows"] == [] and hours_by_year(facts) is None


def test_one_strategy_or_one_world_recommends_nothing(usual: xr.Dataset) -> None:
    alone = told(usual.sel(strategy=[STEMS]))
    assert "nothing to recommend" in alone.first and alone.begin == []
    single = told(usual.isel(replicate=[0]))
    assert single.first.startswith("One world only")
    few = told(usual.isel(replicate=slice(0, 6)))
    assert few.sure[-2] == "Only 6 replicate worlds: run some hundred."


def test_limits_decide_and_are_told(usual: xr.Dataset) -> None:
    most = float(usual["infested_area"].sel(strategy=MATS, year=YEARS).max())
    limit = {"outcome": "infested_area", "most": most, "by": YEARS}
    kept = told(usual, {"order": ["seeds_exported"], "limits": [limit]})
    assert f'"{BOTH}"' in kept.first and "keep the limits" in kept.why[0]
    none = told(usual, {"limits": [{"outcome": "infested_area", "most": 1.0}]})
    assert none.first.startswith("No option keeps the limits") and "100 % of worlds" in none.sure[0]


def test_without_money_nothing_is_said_of_it(usual: xr.Dataset, facts: Facts) -> None:
    with_money = options.options(facts)
    assert any(head.startswith("Cash") for head in with_money["heads"])
    assert [row[0] for row in options.by_season(facts, BOTH, unpaid=False)["rows"]] == ["hours", "cash, USD"]
    for without in (usual.drop_vars("cost"), usual.assign(cost=0 * usual["cost"])):
        poor = dataclasses.replace(facts, dataset=without, summary=facts.summary)
        assert not any("ash" in head for head in options.options(poor)["heads"])
        assert [row[0] for row in options.by_season(poor, BOTH, unpaid=False)["rows"]] == ["hours"]


def test_units_of_the_country(usual: xr.Dataset) -> None:
    facts = facts_of(usual, {"order": ["infested_area"]}, system="us")
    shown = " ".join([*answer(facts).why, *answer(facts).sure, *options.options(facts)["heads"]])
    assert "acres" in shown and not re.search(r"\bha\b", shown) and "m²" not in shown
    assert "acres" in words.question(facts) or "sq ft" in words.question(facts)


def test_facts_need_worlds(facts: Facts) -> None:
    assert "50 worlds or more; there are 24" in rests.would_change(facts)[0]


def test_what_begins_where_is_what_was_run(facts: Facts) -> None:
    strategy = next(one for one in EXPERIMENT.strategies if one.name == BOTH)
    numbers = [0, 1, 5]
    found = beginning(EXPERIMENT, strategy, numbers, workers=1)
    by_unit = {(entry.kind, entry.unit): entry for entry in found.entries}
    assert by_unit["stems", 1].year == 1 and by_unit["stems", 1].share == 1.0
    assert by_unit["stems", 2].year is None and by_unit["mat", 2].year is None
    run = spreadsim.simulate(
        EXPERIMENT.site, EXPERIMENT.vine, strategy, crews=EXPERIMENT.crews, years=1, replicates=numbers,
        seed=EXPERIMENT.seed, maps="none", workers=1,
    )  # fmt: skip
    hours = run["hours"].sel(year=1).to_numpy()  # (replicate, season, task)
    for work in found.work:
        if work.unit is None:
            assert work.hours[0] == pytest.approx(np.mean(hours[:, work.season, work.task]))
    facts = dataclasses.replace(facts, beginning=found)
    text = " ".join(words.beginning_words(facts))
    assert "west (100 %)" in text and "Left for now" in text and "east" in text
    assert [row[0] for row in words.order_of_work(facts)["rows"]] == [
        "1. cut (cut climbing stems)",
        "2. pull (pull mat by hand)",
    ]
    without = dataclasses.replace(facts, experiment=invented(units=False))
    assert "no units" in words.beginning_words(without)[0]


def test_money_that_stops_is_the_same_run_without_paid_crews() -> None:
    short = dataclasses.replace(EXPERIMENT, years=6)
    found = if_money_stops(short, [0, 3], after=2, later=3, workers=1)
    assert found is not None and (found.year, found.crews, found.staying) == (5, ("staff",), ("friends",))
    staff, friends = EXPERIMENT.crews
    gone = Crew.from_dict(staff.to_dict() | {"years": [1, 2]})
    strategy = next(one for one in short.strategies if one.name == STEMS)
    run = spreadsim.simulate(
        short.site, short.vine, strategy, crews=(gone, friends), years=5, replicates=[0, 3], seed=short.seed,
        maps="none", workers=1,
    )  # fmt: skip
    assert np.array_equal(found.fruiting[STEMS], run["fruiting_hosts"].sel(year=5))
    assert np.array_equal(found.infested[STEMS], run["infested_area"].sel(year=5))
    assert set(found.fruiting) == {STEMS, MATS, BOTH}
    assert if_money_stops(short, [0], after=6) is None
    assert if_money_stops(dataclasses.replace(short, crews=(), strategies=()), [0]) is None


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("brief")
    spreadsim.compare(dataclasses.replace(EXPERIMENT, years=5, replicates=12), folder=folder, workers=1)
    return folder


def test_the_command_writes_one_file_that_is_its_own(results: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["brief", str(results), "--workers", "1", "--under", "7"]) == 0
    assert "brief.html" in capsys.readouterr().out
    page = (results / "brief.html").read_text(encoding="utf-8")
    assert "<script" not in page and html.escape(SITE, quote=False).replace("'", "&#39;") in page
    assert "Because &lt;b&gt;." in page and "A &lt;b&gt;title&lt;/b&gt;" in page
    style = re.search(r"<style>(.*?)</style>", page, re.S)[1]
    assert f"'sha256-{b64encode(sha256(style.encode()).digest()).decode()}'" in page
    assert "default-src 'none'" in page and "unsafe" not in page and " style=" not in page
    assert not re.search(r"(src|href)=\"(?!data:image/)", page)
    text = html.unescape(page)
    assert "Chance of fewer than 7 fruiting hosts from year 5 on" in text
    assert "Where to begin" in text and "if money ends after year 3" in text
    assert "Never pull" in text and "product label" not in text, "cautions are those of the treatments in use"


@pytest.mark.slow
def test_without_reruns_what_needs_them_is_left_out(results: Path, tmp_path: Path) -> None:
    page = tmp_path / "deep" / "page.html"
    assert cli.main(["brief", str(results / "outcomes.nc"), "--no-reruns", "--units", "us", "--out", str(page)]) == 0
    text = page.read_text(encoding="utf-8")
    assert "Where to begin" not in text and "money ends" not in text and "Hours by year" in text
    assert not re.search(r"\d ha\b", text)


def test_bad_input_is_named(results: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["brief", str(tmp_path / "nothing")]) == 2
    assert "nothing" in capsys.readouterr().err
    goals = tmp_path / "goals.toml"
    goals.write_text('[goals]\norder = ["birds"]\n', encoding="utf-8")
    assert cli.main(["brief", str(results), "--goals", str(goals)]) == 2
    assert "birds" in capsys.readouterr().err


@pytest.mark.slow
def test_a_page_for_any_dataset(usual: xr.Dataset) -> None:
    page = brief_page(usual.sel(strategy=[NAMES[0]]), EXPERIMENT, decide(usual.sel(strategy=[NAMES[0]])))
    assert "nothing to recommend" in page and "World by world" not in page and "(recommended)" not in page


def test_units_that_all_begin_at_once_are_told_apart_by_their_hours(facts: Facts) -> None:
    strategy = next(one for one in EXPERIMENT.strategies if one.name == BOTH)
    entries = (Entry("stems", 1, 1, 1.0), Entry("stems", 2, 1, 1.0), Entry("mat", 1, 2, 1.0), Entry("mat", 2, 1, 1.0))
    stems = next(
        t for t, one in enumerate(strategy.tasks) if kind_of_work(EXPERIMENT.treatment(one.treatment)) == "stems"
    )
    none = (0.0, 0.0, 0.0)
    work = tuple(Work(0, stems, unit, (mean, 0.0, 9.0), none, none) for unit, mean in ((1, 1.0), (2, 3.0)))
    told = Beginning(BOTH, 3, 20, entries, work)
    first, second = EXPERIMENT.site.unit_names[:2]
    chosen = replace(facts, beginning=told, decision=replace(facts.decision, choice=BOTH))
    assert all_at_once(chosen) == (
        "Work on climbing stems begins in all units in year 1; of its mean hours in the first two seasons: "
        f"{second} 75 %, {first} 25 %."
    )
    later = replace(told, entries=tuple(replace(entry, year=2) for entry in entries))
    assert all_at_once(replace(chosen, beginning=later)) == ""
