"""Decisions: published worked values, analytic normal cases, and a synthetic dataset whose best strategy is known."""

import dataclasses

import numpy as np
import pytest
import xarray as xr
from scipy import stats

import spreadsim
from spreadsim.analysis import needs
from spreadsim.analysis.decision_facts import gain_an_hour
from spreadsim.analysis.decision_words import facts_to_measure, survey_sentence
from spreadsim.analysis.pairs import simultaneous
from spreadsim.analysis.sensitivity_words import given_lines
from spreadsim.analysis.surveys import Looking
from spreadsim.errors import InputError
from spreadsim.inputs import Crew, Experiment, FollowUp, Site, Strategy, Task, load_vine
from spreadsim.inputs.embed import embed
from tests.analysis.synthetic import NAMES, outcomes

WORLDS = 4000


def score_of(*columns: np.ndarray) -> xr.DataArray:
    return xr.DataArray(
        np.stack(columns), {"strategy": [f"s{k}" for k in range(len(columns))]}, ["strategy", "replicate"]
    )


def normal_loss(mean: float, sd: float) -> float:
    """Unit normal loss L(z) = phi - z (1 - Phi), Raiffa and Schlaifer 1961 (from memory)."""
    z = mean / sd
    return float(sd * (stats.norm.pdf(z) - z * stats.norm.sf(z)))


@pytest.mark.parametrize(
    ("z", "loss"), [(0, 0.3989422804), (0.5, 0.1977965574), (1, 0.0833154706), (2, 0.0084907026), (3, 0.0003821543)]
)
def test_normal_loss_is_that_of_the_published_table(z, loss):
    assert normal_loss(z, 1) == pytest.approx(loss, abs=1e-9)


def test_perfect_information_of_a_table_of_payoffs():
    # checks.md 10: payoffs [[200, -20], [150, 20], [100, 60]], chances .6 and .4: 112, 98, 84, worth 32
    state = np.r_[np.zeros(60, int), np.ones(40, int)]
    payoffs = np.array([[200, -20], [150, 20], [100, 60]])[:, state]
    found = spreadsim.regret(score_of(*-payoffs))
    assert found["mean"].values.tolist() == pytest.approx([-112, -98, -84])
    assert found.attrs["choice"] == "s0"
    assert found.attrs["perfect_information"] == pytest.approx(32)
    assert found["best"].values.tolist() == pytest.approx([0.6, 0, 0.4])


def test_a_world_that_several_share_is_divided_among_them():
    assert spreadsim.regret(score_of(np.zeros(60), np.zeros(60)))["best"].values.tolist() == [0.5, 0.5]


def test_perfect_information_of_a_normal_net_benefit():
    # checks.md 10: net benefit N(100, 300^2): 76.27083429
    assert normal_loss(100, 300) == pytest.approx(76.27083429)
    benefit = np.random.default_rng(1).normal(100, 300, 100_000)
    spread = np.maximum(-benefit, 0).std() / np.sqrt(len(benefit))
    found = spreadsim.regret(score_of(np.zeros_like(benefit)[:8000], -benefit[:8000]))
    assert found.attrs["perfect_information"] == pytest.approx(76.27083429, abs=4.9 * spread * np.sqrt(100 / 8))


@pytest.fixture(scope="module")
def two_parameters():
    """Net benefit of s1 over s0: 100 + a N(0, 200^2) + b N(0, 50000): worked values of checks.md 10."""
    random = np.random.default_rng(5)
    a, b = random.normal(0, 200, WORLDS), random.normal(0, np.sqrt(50_000), WORLDS)
    attrs = {"units": "1", "long_name": "invented"}
    columns = {"x.a": a, "x.b": b, **{f"x.idle{k}": random.normal(size=WORLDS) for k in range(10)}}
    dataset = xr.Dataset({name: ("replicate", column, attrs) for name, column in columns.items()})
    return dataset, score_of(np.zeros(WORLDS), -(100 + a + b))


def test_value_of_each_parameter_meets_the_worked_values(two_parameters):
    dataset, score = two_parameters
    found = spreadsim.value_of_knowing(dataset, score)
    assert found["parameter"].values[:2].tolist() == ["x.b", "x.a"]
    for name, worth in (("x.a", 39.55931148), ("x.b", 47.98107063)):
        row = found.sel(parameter=name)
        assert 0 < float(row["error"]) < 8
        assert float(row["value"]) == pytest.approx(worth, abs=4.9 * float(row["error"]))
        assert bool(row["above_noise"])


def test_idle_parameters_are_seldom_above_noise(two_parameters):
    # each of ten idle ones passes with a chance below 0.05 / 10 or so; three of them: < 1e-6
    found = spreadsim.value_of_knowing(*two_parameters)
    idle = [name for name in found["parameter"].values if "idle" in name]
    assert found["above_noise"].sel(parameter=idle).sum() <= 2


def test_parameters_known_together_are_worth_the_ceiling(two_parameters):
    dataset, score = two_parameters
    found = spreadsim.value_of_statistics(score, {name: dataset[name].to_numpy() for name in ("x.a", "x.b")})
    assert found["value"] == pytest.approx(76.27083429, abs=4.9 * found["error"])
    assert found["value"] <= spreadsim.regret(score).attrs["perfect_information"] + 4.9 * found["error"]


def test_value_of_a_sample_meets_the_worked_value():
    # checks.md 10: N(100, 300^2), 10 observations of sd 600: 58.91715935
    random = np.random.default_rng(8)
    benefit = random.normal(100, 300, WORLDS)
    seen = benefit + random.normal(0, 600 / np.sqrt(10), WORLDS)
    score = score_of(np.zeros(WORLDS), -benefit)
    one = spreadsim.value_of_statistics(score, {"mean of ten": seen})
    assert one["value"] == pytest.approx(58.91715935, abs=4.9 * one["error"])
    table = spreadsim.survey_value(score, {10: {"mean of ten": seen}, 40: {"mean": benefit}}, hour_worth=1.0)
    assert table["value"].values[0] == 0
    assert (table["net"] - (table["value"] - table["hours"])).max() == 0
    assert table.attrs["hours"] == 10
    assert "10 h" in table.attrs["sentence"]
    dear = spreadsim.survey_value(score, {10: {"mean of ten": seen}}, hour_worth=20.0)
    assert dear.attrs["hours"] == 0 and dear.attrs["sentence"].startswith("No survey")


def test_a_survey_finds_as_random_search_does():
    # checks.md 11: coverage .12 finds .113079563 (Koopman)
    there = {"hosts": np.full(WORLDS, 50)}
    found = spreadsim.survey_finds(there, 4.0, 0.03, seed=3)["hosts"]
    chance = 0.113079563
    assert found.mean() == pytest.approx(50 * chance, abs=4.9 * np.sqrt(50 * chance * (1 - chance) / WORLDS))
    assert (spreadsim.survey_finds(there, 8.0, 0.03, seed=3)["hosts"] >= found).all()
    assert spreadsim.survey_finds(there, 0.0, 0.03)["hosts"].max() == 0
    with pytest.raises(InputError, match=r"there\.hosts"):
        spreadsim.survey_finds({"hosts": np.array([1.5])}, -1.0, 0.03)


def test_net_present_cost_is_that_of_an_annuity():
    # checks.md 12: (1 - 1.05^-10) / .05 = 7.7217349292; due: times 1.05
    dataset = outcomes(years=10)
    dataset["cost"] = (
        xr.where(dataset["year"] > 0, 1.0, np.nan) * xr.ones_like(dataset["cost"]) / (4 * dataset.sizes["task"])
    )
    # the order of dimensions is the dataset's own
    dataset["cost"] = dataset["cost"].transpose(*dataset["hours"].dims)
    end = spreadsim.net_present_cost(dataset, 0.05)
    assert end.values == pytest.approx(7.7217349292)
    assert spreadsim.net_present_cost(dataset, 0.05, when="start").values == pytest.approx(7.7217349292 * 1.05)
    hours = spreadsim.net_present_cost(dataset, 0.0, hour_value=2.0) - 10
    total = dataset["hours"].sum(["season", "task", "year"])
    assert hours.values == pytest.approx((2 * total).transpose(*hours.dims).values)


def test_variance_ratio_is_what_common_worlds_saved():
    # checks.md 10: sd 3 and 4, correlation .8: 25 over 5.8
    random = np.random.default_rng(2)
    made = random.multivariate_normal([500, 500], [[9, 9.6], [9.6, 16]], 3000).T
    dataset = outcomes(("a", "b"), replicates=3000, years=1, area={"a": 1, "b": 1}, seeds={"a": 1, "b": 1})
    dataset["infested_area"].values[:, :, 1] = made
    ratio = float(spreadsim.contrasts(dataset, outcomes=["infested_area"], years=[1])["variance_ratio"].squeeze())
    # log of the ratio of two dependent variances has a standard error below 2 / sqrt(n)
    assert np.log(ratio) == pytest.approx(np.log(25 / 5.8), abs=4.9 * 2 / np.sqrt(3000))


@pytest.mark.parametrize("skewed", [False, True])
def test_intervals_of_all_pairs_hold_together(skewed):
    random = np.random.default_rng(4)
    trials, missed = 200, 0
    for trial in range(trials):
        raw = random.exponential(1, (60, 5)) - 1 if skewed else random.normal(size=(60, 5))
        columns = np.stack([raw[:, i] - raw[:, j] for i in range(5) for j in range(i)], axis=1)
        low, high = simultaneous(columns, 0.9, trial)
        missed += bool(((low > 0) | (high < 0)).any())
    # nominal 10 %; a false alarm of 1e-6 either way
    assert stats.binom.ppf(1e-6, trials, 0.1) <= missed <= stats.binom.isf(1e-6, trials, 0.1)


def test_intervals_of_pairs_in_which_few_worlds_differ_stay_finite():
    column = np.zeros(200)
    column[:3] = 5
    low, high = simultaneous(np.stack([column, np.ones(200)], axis=1), 0.9, 1)
    assert np.isfinite([*low, *high]).all()
    assert (low[1], high[1]) == (1, 1) and low[0] <= column.mean() <= high[0]


def test_contrasts_agree_with_those_of_one_pair():
    dataset = outcomes()
    every = spreadsim.contrasts(dataset, outcomes=["infested_area", "native_cover"])
    one = spreadsim.contrast(dataset, "infested_area", NAMES[0], NAMES[2], year=30)
    row = every.sel(outcome="infested_area", year=30).isel(pair=1)
    assert (row["first"], row["second"]) == (NAMES[0], NAMES[2])
    assert float(row["mean"]) == pytest.approx(float(one["mean"]))
    assert float(row["low"]) < float(one["low"]) and float(one["high"]) < float(row["high"])
    assert float(row["better"]) == float(one["lower"])
    cover = every.sel(outcome="native_cover", year=30).isel(pair=1)
    assert float(cover["worse"]) > 0.9  # less of it is worse


def test_ishigami_indices_meet_the_published_ones():
    # checks.md 10: .3139051911, .4424111448, 0
    random = np.random.default_rng(6)
    x = random.uniform(-np.pi, np.pi, (WORLDS, 3))
    y = np.sin(x[:, 0]) + 7 * np.sin(x[:, 1]) ** 2 + 0.1 * x[:, 2] ** 4 * np.sin(x[:, 0])
    dataset = xr.Dataset({f"x.{k}": ("replicate", x[:, k]) for k in range(3)})
    found = spreadsim.sensitivity(dataset, xr.DataArray(y, dims="replicate"))
    for k, index in enumerate((0.3139051911, 0.4424111448, 0.0)):
        row = found.sel(parameter=f"x.{k}")
        assert 0 < float(row["error"]) < 0.05
        # twenty resamples know an error to a sixth; RBD-FAST's own rest of bias is below .01
        assert float(row["index"]) == pytest.approx(index, abs=4.9 * 1.5 * float(row["error"]) + 0.01)
    assert found["parameter"].values[0] == "x.1"
    delta = spreadsim.sensitivity(
        dataset.isel(replicate=slice(500)), xr.DataArray(y[:500], dims="replicate"), method="delta", resamples=5
    )
    assert (delta["index"] > 0).all()


@pytest.fixture(scope="module")
def known():
    """The third strategy is best unless x.turn is high; what it is worth is known from the normal law."""
    dataset = outcomes(replicates=1000)
    random = np.random.default_rng(9)
    turn = random.normal(size=1000)
    dataset["x.turn"] = ("replicate", turn, {"units": "m", "long_name": "how far it turns"})
    for k in range(6):
        dataset[f"x.idle{k}"] = ("replicate", random.normal(size=1000), {"units": "1", "long_name": "idle"})
    area = np.stack([30_000 + 0 * turn, 25_000 + 0 * turn, 10_000 + 300 * turn, np.full(1000, 10_100.0)])
    dataset["infested_area"].values[:, :, 30] = area
    return dataset


def test_the_known_best_is_chosen_with_its_known_regret(known):
    goals = spreadsim.make_goals({"weights": {"infested_area": 1}})
    found = spreadsim.decide(known, goals)
    assert (found.choice, found.next, found.reason) == (NAMES[2], NAMES[3], "best")
    # what is lost by the choice is the normal loss at z = 1/3 with sd 300
    spread = 300 / np.sqrt(1000)
    assert found.options.attrs["perfect_information"] == pytest.approx(normal_loss(100, 300), abs=4.9 * spread)
    assert found.knowing["parameter"].values[0] == "x.turn"
    assert float(found.knowing["value"][0]) == pytest.approx(found.options.attrs["perfect_information"], rel=0.1)
    assert found.sensitivity["parameter"].values[0] == "x.turn"
    assert float(found.options["best"].sel(strategy=NAMES[2])) == pytest.approx(
        stats.norm.cdf(1 / 3), abs=4.9 * 0.5 / np.sqrt(1000)
    )


def test_scores_add_up_from_their_parts(known):
    goals = spreadsim.make_goals({"weights": {"infested_area": 0.5, "native_cover": 100, "net_present_cost": 2}})
    scored = spreadsim.scores(known, goals)
    xr.testing.assert_allclose(scored["part"].sum("outcome"), scored["score"])
    assert float(scored["weight"].sel(outcome="native_cover")) == -100


def test_a_limit_puts_out_the_best(known):
    limit = {"outcome": "infested_area", "under": 10_050, "by": 30, "often": 0.5}
    found = spreadsim.decide(known, spreadsim.make_goals({"weights": {"infested_area": 1}, "limits": [limit]}))
    share = float(found.broken["share"].sel(strategy=NAMES[2]).item())
    assert share == (known["infested_area"].values[2, :, 30] >= 10_050).mean()
    assert (found.choice, found.reason) == (NAMES[2], "only one within the limits")
    never = spreadsim.make_goals({"weights": {"infested_area": 1}, "limits": [limit | {"often": 0, "under": 1}]})
    assert spreadsim.decide(known, never).reason == "breaks limits least"


def test_a_treatment_unwanted_in_a_unit_is_seen_where_its_tasks_may_go():
    site = Site.from_arrays(20.0, mat=np.full((4, 6), 0.1), units=np.full((4, 6), 1), unit_names=["slope", "flat"])
    tasks = [
        [Task("foliar-spray", units=["slope"])],
        [Task("foliar-spray", units=["flat"]), Task("pull")],
        [Task("pull"), Task("cut", follow_up=FollowUp(treatment="spot-spray"))],
    ]
    strategies = [
        Strategy(NAMES[0]),
        *(Strategy(name, tasks=some) for name, some in zip(NAMES[1:], tasks, strict=True)),
    ]
    crews = (Crew("staff", 10, may=("all",)),)
    attrs, variables = embed(Experiment("Invented", site, load_vine("wintercreeper"), crews, strategies))
    dataset = outcomes().assign({name: (dims, array, own) for name, (dims, array, own) in variables.items()})
    dataset = dataset.assign_attrs(attrs)
    slope, anywhere, pulled = (
        spreadsim.broken(dataset, spreadsim.make_goals({"limits": [limit]}).limits[0])["share"].values.tolist()
        for limit in ({"no": "spray", "unit": "slope"}, {"no": "foliar-spray"}, {"no": "pull", "unit": "flat"})
    )
    assert slope == [0, 1, 0, 1]
    assert anywhere == [0, 1, 1, 0]
    assert pulled == [0, 0, 1, 1]
    with pytest.raises(InputError, match="slope"):
        spreadsim.broken(dataset, spreadsim.make_goals({"limits": [{"no": "pull", "unit": "moor"}]}).limits[0])


def test_a_later_goal_decides_among_those_that_the_first_cannot_tell_apart():
    dataset = outcomes(replicates=200)
    dataset["seeds_exported"].values[3] = dataset["seeds_exported"].values[1]
    found = spreadsim.decide(dataset)
    assert found.choice == NAMES[3]
    assert found.scored["outcome"].values.tolist() == ["infested_area"]
    assert np.isnan(found.options["regret"].sel(strategy=NAMES[0]))


def test_every_fault_of_the_goals_is_told(tmp_path):
    file = tmp_path / "goals.toml"
    file.write_text(
        '[goals]\nyear = 1.5\ncolour = 1\norder = ["hours"]\nweights = { happiness = 1, hours = -1 }\n'
        '[[goals.limits]]\noutcome = "hours"\n[[goals.limits]]\noutcome = "hours"\nmost = 1\nleast = 2\n'
        '[[goals.limits]]\nno = "spray"\nmost = 3\n'
    )
    with pytest.raises(InputError) as caught:
        spreadsim.read_goals(file)
    text = str(caught.value)
    for place in (
        "year",
        "colour",
        "weights.happiness",
        "weights.hours",
        "limits[0]",
        "limits[1]",
        "limits[2]",
        "order",
    ):
        assert f"{place}: " in text, place
    assert str(file) in text


@pytest.mark.parametrize(
    "call",
    [
        lambda d: spreadsim.contrasts(d, outcomes=["joy"]),
        lambda d: spreadsim.contrasts(d, years=[99]),
        lambda d: spreadsim.decide(d, spreadsim.make_goals({"order": ["fallen_hosts"]})),
        lambda d: spreadsim.decide(
            d, spreadsim.make_goals({"limits": [{"outcome": "hours", "most": 1, "by": 99}], "order": ["cost"]})
        ),
        lambda d: spreadsim.net_present_cost(d, -2),
        lambda d: spreadsim.value_of_knowing(d, d["infested_area"].isel(year=-1), ("x.none",)),
        lambda d: spreadsim.sensitivity(d, d["infested_area"].isel(year=-1, strategy=0), method="guess"),
        lambda d: spreadsim.regret(d["infested_area"]),
    ],
)
def test_what_is_not_there_is_refused(call):
    with pytest.raises(InputError):
        call(outcomes())


@pytest.mark.parametrize("library", ["scipy", "SALib"])
def test_a_library_that_is_missing_is_named_with_its_remedy(monkeypatch, library):
    real = needs.importlib.util.find_spec
    monkeypatch.setattr(needs.importlib.util, "find_spec", lambda name: None if name == library else real(name))
    with pytest.raises(InputError, match=rf"{library} is not installed.*spreadsim\[analysis\]"):
        spreadsim.decide(outcomes())


def test_readings_of_a_fact_are_worth_what_a_normal_sample_is():
    """checks.md 10: N(100, 300^2), 10 observations of sd 600, twice the spread of what is not known: 58.91715935."""
    benefit = np.random.default_rng(8).normal(100, 300, WORLDS)
    seen = spreadsim.readings({"x.a": benefit}, 10, 2.0, seed=3)
    found = spreadsim.value_of_statistics(score_of(np.zeros(WORLDS), -benefit), seen)
    assert found["value"] == pytest.approx(58.91715935, abs=4.9 * found["error"])
    with pytest.raises(InputError, match="count: found 0"):
        spreadsim.readings({"x.a": benefit}, 0)


@pytest.fixture(scope="module")
def measured_first(known):
    goals = spreadsim.make_goals({"weights": {"infested_area": 1}})
    return spreadsim.decide(known, goals, looking=Looking((5.0, 40.0), hour_worth=0.1))


def test_measuring_first_pays_where_the_fact_decides_and_an_hour_is_cheap(known, measured_first):
    survey = measured_first.survey
    assert survey.attrs["facts"] == ["x.turn"]
    gained = survey["value"].sel(hours=[0, 5, 40]).values
    assert gained[0] == 0 < gained[1] < gained[2]
    # forty readings as rough as the fact itself leave 1 / 41 of its variance unknown
    worth = normal_loss(100, 300 * np.sqrt(40 / 41))
    assert gained[2] == pytest.approx(worth, abs=4.9 * float(survey["error"].sel(hours=40)))
    assert survey.attrs["hours"] == 40
    assert "Measure first? Yes: of 5, 40 h" in survey_sentence(known, measured_first)
    dear = survey.assign(net=survey["value"] - 100 * survey["hours"]).assign_attrs(hours=0.0, hour_worth=100.0)
    assert "none would surely pay" in survey_sentence(known, dataclasses.replace(measured_first, survey=dear))
    with pytest.raises(InputError, match="error: found 0"):
        Looking(error=0)


def test_an_hour_is_worth_what_the_chosen_work_saved_on_average(known):
    score = known["infested_area"].sel(year=30)
    ground = score.mean("replicate")
    hours = float(known["hours"].sel(strategy=NAMES[2]).sum(["year", "season", "task"]).mean())
    saved = float(ground.sel(strategy=NAMES[0]) - ground.sel(strategy=NAMES[2]))
    assert gain_an_hour(known, score, NAMES[2]) == pytest.approx(saved / hours)
    assert gain_an_hour(known, score, NAMES[0]) == 0


def test_the_five_facts_come_in_order_and_say_which_are_no_surer_than_chance(known, measured_first):
    facts = facts_to_measure(known, measured_first)
    assert len(facts) == 5
    assert facts[0].startswith("x: turn, m (how far it turns): knowing it could change the choice")
    assert all("do not show that it counts" in fact for fact in facts[1:])


def test_every_outcome_and_difference_has_its_indices(known):
    table = spreadsim.sensitivities(known, outcomes=["infested_area"], strategies=NAMES[2:])
    assert table["target"].values.tolist() == [*NAMES[2:], f"{NAMES[3]} minus {NAMES[2]}"]
    for target in (NAMES[2], f"{NAMES[3]} minus {NAMES[2]}"):
        row = table.sel(outcome="infested_area", target=target, parameter="x.turn")
        # it is linear in the one parameter, and in no other
        assert float(row["index"]) == pytest.approx(1, abs=4.9 * float(row["error"]) + 0.02)
        assert float(row["direction"]) == pytest.approx(1 if target == NAMES[2] else -1)
    assert float(table["index"].sel(target=NAMES[3]).max()) == 0  # the same in every world
    told = given_lines(table)
    assert f"  {NAMES[2]}: x.turn " in told[1] and "higher with more of it" in told[1]
    assert "on none more than chance gives" in told[2] and "lower with more of it" in told[3]
    with pytest.raises(InputError, match='outcomes: found "joy"'):
        spreadsim.sensitivities(known, outcomes=["joy"])
