"""Sentences that must be true of datasets with known answers."""

import re

import numpy as np
import pytest

from spreadsim import schema
from spreadsim.analysis import contrast
from spreadsim.analysis.sentences import LIMITS, sentences, trust
from spreadsim.analysis.summary import summarise
from spreadsim.analysis.verdict import judge, wins
from tests.analysis.synthetic import NAMES, outcomes


def told(dataset, **options):
    return " ".join(sentences(dataset, **options))


def same(value):
    return dict.fromkeys(NAMES, value)


def test_one_strategy_best_on_both_is_named_first_with_how_sure():
    first, seed, area, worth = sentences(outcomes())
    assert first == (
        'Start with the tasks "cut", then "pull", as in "both, with follow-up", because that left the least seed leaving the site and '
        'the least infested area; how sure: almost certain, as against "stems first", which came nearest, it did better '
        "in all 60 worlds on seed leaving the site."
    )
    assert seed.startswith("Seed leaving the site, years 1 to 30: 12 thousand seeds")
    assert 'Next is "stems first"' in seed and 'Next is "mats first"' in area
    assert "60 replicate worlds" in worth and LIMITS in worth


def test_it_begins_with_what_gets_hours_in_the_first_year():
    dataset = outcomes()
    hours = dataset["hours"].where((dataset["year"] > 10) | (dataset["task"] == 1), 0.0)
    assert sentences(dataset.assign(hours=hours))[0].startswith('Start with the task "pull", as in ')
    assert sentences(dataset.drop_vars("hours"))[0].startswith('Start with the tasks "cut", then "pull", as in ')


def test_every_number_of_an_outcome_has_a_range():
    for sentence in sentences(outcomes(noise=0.3))[1:3]:
        amounts = re.findall(r"[\d.,]+ (?:ha|thousand seeds)(?: less| fewer| more)? ?(\(?)", sentence)
        assert len(amounts) == 4 and all(bracket == "(" for bracket in amounts), sentence


def test_the_numbers_are_those_of_the_runs():
    dataset = outcomes()
    last = dataset["infested_area"].sel(year=30)
    best, none = last.sel(strategy="both, with follow-up"), last.sel(strategy="no action")
    area = sentences(dataset)[2]
    assert f": {float(best.mean()) / 1e4:.2f} ha (" in area
    assert f"{float(none.mean()) / 1e4:.2f} ha (" in area
    assert f"{float((none - best).mean()) / 1e4:.2f} ha less (" in area
    low, high = (float(best.quantile(share)) / 1e4 for share in (0.05, 0.95))
    assert f"({low:.2f} to {high:.2f})" in area
    gap = contrast(dataset, "infested_area", "no action", "both, with follow-up")
    assert f"ha less ({float(gap['low']) / 1e4:.2f} to {float(gap['high']) / 1e4:.2f})" in area


def test_us_units():
    area = sentences(outcomes(), system="us")[2]
    mean = float(outcomes()["infested_area"].sel(year=30, strategy="no action").mean()) / 4046.8564224
    assert f"{mean:.1f} acres" in area and " ha" not in area


def test_different_bests_are_left_to_the_reader():
    dataset = outcomes(area=dict(zip(NAMES, (3.4, 3.0, 0.5, 0.9), strict=True)))
    first = sentences(dataset)[0]
    assert first.startswith(
        'Start with the tasks "cut", then "pull", because the strategies that did best begin so; how sure: '
    )
    assert '"both, with follow-up" on seed leaving the site (almost certain, as' in first
    assert 'and "mats first" on infested area (almost certain, as' in first
    names = dataset["task_name"].copy()
    names.loc[{"strategy": "mats first", "task": 0}] = "mow"
    first = sentences(dataset.assign_coords(task_name=names))[0]
    assert "no strategy did best on both" in first and first.count("almost certain") == 2
    assert first.startswith(
        'Start with the tasks "cut", then "pull", as in "both, with follow-up", if seed leaving the site counts'
    )
    assert 'start with the tasks "mow", then "pull", as in "mats first", if infested area does' in first


def test_what_cannot_be_told_apart_is_called_so():
    area = dict(zip(NAMES, (3.0, 3.0, 1.0, 1.0), strict=True))
    dataset = outcomes(area=area, noise=0.3)
    verdict = judge(summarise(dataset), "infested_area")
    assert {verdict.best, *verdict.rivals} == {"mats first", "both, with follow-up"}
    assert set(verdict.beaten) == {"no action", "stems first"}
    text = sentences(dataset)
    assert "cannot be told apart" in text[0] and "cannot be told from it" in text[2]
    assert text[0].startswith(
        'Start with the tasks "cut", then "pull", as in "both, with follow-up", because that left the least seed'
    )
    assert "sure" not in text[0].split(". On infested area ")[1]


def test_several_that_beat_no_action_are_all_named():
    area = dict(zip(NAMES, (3.0, 1.0, 1.0, 1.0), strict=True))
    seeds = dict(zip(NAMES, (9000.0, 500.0, 500.0, 500.0), strict=True))
    first = sentences(outcomes(area=area, seeds=seeds, noise=0.3))[0]
    assert first.startswith("Start with ") and all(f'"{name}"' in first for name in NAMES[1:])
    assert (
        re.search("than no action; how sure: (almost certain|very likely)", first) and "cannot tell them apart" in first
    )


def test_worlds_in_which_two_are_equal_are_told_in_plain_words():
    text = sentences(two([1.0 + 0.01 * i for i in range(88)] + [0.0] * 12))
    assert text[0].endswith(
        "how sure: almost certain, as against no action it did better in 88 % of the worlds, as well in 12 % and worse in none."
    )
    assert "almost certain: better in 88 % of the worlds, as well in 12 % and worse in none" in text[1]
    mixed = sentences(two([1.0 + 0.01 * i for i in range(90)] + [-0.1] * 10))[0]
    assert "better in 90 % of the worlds and worse in 10 %" in mixed


def two(difference):
    """Make outcomes of no action and of one strategy that ends so much lower in each world, ha."""
    none = np.full((1, len(difference), 1), 5e4)
    values = np.concatenate([none, none - 1e4 * np.asarray(difference, dtype=float)[None, :, None]])
    coords = {"strategy": ["no action", "work"], "replicate": np.arange(len(difference)), "year": [1]}
    return schema.build_dataset({"infested_area": values}, coords)


@pytest.mark.parametrize(
    ("difference", "best", "clear"),
    [
        ([0.5 + 0.01 * i for i in range(40)], "work", True),
        # better in 36 worlds of 40, yet so much worse in the rest that the mean may be either way
        ([0.1 + 0.001 * i for i in range(36)] + [-0.1, -1.0, -0.5, -1.5], "work", False),
        # much better in few worlds and a little worse in most: the mean is lower, the worlds are not
        ([1.0 + 0.01 * i for i in range(16)] + [-0.01 - 0.0001 * i for i in range(24)], "work", False),
    ],
)
def test_a_clear_best_needs_both_the_mean_and_most_worlds(difference, best, clear):
    dataset = two(difference)
    verdict = judge(summarise(dataset), "infested_area")
    assert (verdict.best, verdict.clear) == (best, clear)
    assert sentences(dataset)[0].startswith('Start with "work"' if clear else "Nothing is sure")


def test_when_nothing_differs_nothing_is_sure():
    text = sentences(outcomes(area=same(2.0), seeds=same(0.0), noise=0))
    assert text[0] == "Nothing is sure: no strategy stands out from the others in these runs."
    assert "the same under every strategy, 0 seeds (0 to 0)" in text[1]
    assert "the same under every strategy, 1.96 ha" in text[2]


def test_noise_alone_makes_nobody_best():
    dataset = outcomes(area=same(2.0), seeds=same(3000.0), noise=0.5)
    assert sentences(dataset)[0].startswith("Nothing is sure")


def test_work_that_makes_it_worse_is_not_praised():
    area = dict(zip(NAMES, (1.0, 2.0, 3.0, 3.5), strict=True))
    seeds = dict(zip(NAMES, (100.0, 200.0, 300.0, 400.0), strict=True))
    text = told(outcomes(area=area, seeds=seeds))
    assert text.startswith(
        "Leave it alone rather than do any of this, because that left the least seed leaving the site"
    )
    assert text.count("No strategy did better than no action.") == 2


def test_one_strategy_alone_is_not_compared():
    text = told(outcomes(("no action",)))
    assert text.count("There is nothing to compare it with.") == 2
    assert "best" not in text and "3.33 ha (1.88 to 4.89)" in text


def test_one_world_shows_no_chance():
    text = told(outcomes(replicates=1))
    assert text.startswith("One world only: it shows what may happen, not which strategy is better.")
    assert not re.search(r"certain|likely|sure|%", text)


def test_few_worlds_are_said_to_be_few():
    text = told(outcomes(replicates=5))
    assert "So few worlds say little" in text and "better in all 5 worlds" in text
    assert "almost certain" not in text
    assert "So few" not in told(outcomes(replicates=60))


def test_fruiting_hosts_stand_in_for_seed():
    dataset = outcomes().drop_vars("seeds_exported")
    assert sentences(dataset)[1].startswith("Fruiting hosts, end of year 30: ")


def test_wins_are_counted_world_by_world():
    summary = summarise(outcomes(noise=0.5))
    better, equal, worse = wins(summary, "infested_area", "mats first", "both, with follow-up")
    values = outcomes(noise=0.5)["infested_area"].sel(year=30)
    lower = int((values.sel(strategy="mats first") < values.sel(strategy="both, with follow-up")).sum())
    assert (better, equal, worse) == (lower, 0, 60 - lower)
    assert 0 < lower < 30


def test_trust_counts_what_rests_on_assumption():
    assert trust(outcomes()).startswith("1 of 2 drawn parameters are assumed")
    assert trust(outcomes().drop_vars(["mat.front_speed", "cut-and-treat.base_kill"])) == ""


@pytest.mark.parametrize("noise", [0.0, 0.1, 1.0])
def test_plain_words_only(noise):
    text = told(outcomes(noise=noise)) + told(outcomes(noise=noise, replicates=3))
    assert not re.search(r"nan|inf\b|significant|p-value|-0\b|forecasts", text)
