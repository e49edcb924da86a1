"""What stewards ask: cases with a known answer, what bad input says, and each command once."""

import dataclasses
import math
import re

import numpy as np
import pytest
from click.testing import CliRunner

import spreadsim
from spreadsim import Crew, Event, Fund, InputError, Task, make_goals
from spreadsim.cli import cli
from spreadsim.planning.questions.crossing import STEP, crossing, factors, first_true
from spreadsim.planning.questions.paired import paired, ratio
from spreadsim.planning.questions.spans import Span, with_spans
from tests.planning.asking import NEED, experiment, same, with_crews, written

AREA = make_goals({"order": ["infested_area"]})
WORLDS = {"replicates": 6}


# how a smallest value is found


@pytest.mark.parametrize("at", range(9))
def test_the_first_place_is_found_wherever_it_is_and_with_few_tests(at):
    asked = []
    assert first_true(8, lambda place: asked.append(place) or place >= at) == (at if at < 8 else None)
    assert len(asked) <= 5


def test_factors_hold_none_one_and_the_most_in_steps_of_a_tenth():
    found = factors(0.1, 8.0)
    assert found[0] == 0.0 and 1.0 in found and found[-1] == 8.0
    steps = np.array(found[2:]) / np.array(found[1:-1])
    assert (steps > 1).all() and (steps < STEP + 1e-9).all()
    assert crossing(3, lambda at: at >= 1, lambda at: True, lambda at: False) == (1, 0, None)


def test_a_ratio_of_gains_and_its_interval():
    """The share of proportional gains is that share in every world; without a gain there is none."""
    whole = np.array([3.0, 4.0, 5.0, 6.0, 7.0, 8.0])
    assert ratio(0.25 * whole, whole, 0.9, 1) == pytest.approx((0.25, 0.25, 0.25))
    assert all(math.isnan(one) for one in ratio(whole, 0.0 * whole, 0.9, 1))
    middle, low, high = ratio(np.array([1.0, 0.0, 2.0, 1.0, 2.0, 3.0]), whole, 0.9, 1)
    assert middle == pytest.approx(9 / 33) and low < middle < high


def test_two_cases_are_told_apart_by_most_worlds_too():
    few = np.zeros(30)
    few[:3] = -100.0, -90.0, -95.0
    assert not paired(few + np.where(few < 0, 0, 0.1), np.zeros(30), 0.9, 1).told
    assert paired(np.linspace(-2, -1, 30), np.zeros(30), 0.9, 1).told


# hours to hold the line


def test_without_vine_no_hours_are_needed():
    answer = spreadsim.hours_to_hold(experiment(vine=False), replicates=20)
    assert answer.table.attrs["hours"] == 0.0 == answer.table.attrs["hours_high"]
    assert answer.sentence.startswith("No hours are needed to hold the line")


def test_a_known_need_is_found_to_a_tenth_and_more_hours_do_as_well():
    answer = spreadsim.hours_to_hold(experiment(), replicates=20)
    table = answer.table
    assert NEED <= table.attrs["hours"] <= NEED * STEP
    assert table.attrs["hours_low"] == table.attrs["hours"] == table.attrs["hours_high"]
    share = table["share"].values
    assert (np.diff(share) >= 0).all() and set(share) == {0.0, 1.0}
    np.testing.assert_array_equal(share == 1.0, table["hours"].values >= NEED)
    assert f"needs about {table.attrs['hours']:.3g} h a year" in answer.sentence


def test_hours_out_of_reach_are_said_to_be():
    answer = spreadsim.hours_to_hold(with_crews(experiment(), Crew("staff", {"winter": 0.4}, ("pull",))), **WORLDS)
    assert math.isnan(answer.table.attrs["hours"]) and not answer.table.attrs["holds"]
    assert answer.sentence.startswith("No hours in reach hold the line")
    assert "infested area is held in 0 % of worlds, fruiting hosts in 100 %" in answer.sentence


def test_only_the_hours_of_the_crew_named_are_multiplied():
    idle = Crew("others", {"winter": 100.0}, ("cut",))
    given = with_crews(experiment(), *experiment().crews, idle)
    answer = spreadsim.hours_to_hold(given, crews=["staff"], **WORLDS)
    assert NEED <= answer.table.attrs["hours"] <= NEED * STEP and answer.table.attrs["planned"] == 5.0
    assert "of staff" in answer.sentence


# spans of years


def test_spans_that_change_nothing_give_the_same_bits():
    staff = Crew("staff", {"winter": 3.0, "summer": 2.0}, ("pull", "cut"), price=10.0, years=(1, 3))
    led = Crew("friends", {"winter": 6.0}, ("pull",), volunteers=True, leader="staff", turnout=0.7)
    tasks = [Task("pull", crews=["friends"]), Task("cut", crews=["staff"])]
    given = experiment(
        years=4, crews=(staff, led), tasks=tasks, funds=(Fund("grant", 60.0, crews=["staff", "friends"]),)
    )
    spans = [Span(1, 1, 1.0), Span(2, 2, 1.0), Span(3, 4, 1.0)]
    split = with_spans(given, spans, ["staff", "friends"])
    assert len(split.crews) == 6 and split.crews[4].leader == split.crews[1].name
    first, second = (spreadsim.compare(one, replicates=5) for one in (given, split))
    assert same(first, second) and float(first["hours"].sum()) > 0
    gone = with_spans(given, [Span(1, 1, 1.0), Span(2, 2, 0.0), Span(3, 4, 1.0)], ["staff", "friends"])
    worked = spreadsim.compare(gone, replicates=5)["hours_available"].sel(strategy="pull").sum("season")
    assert (worked.sel(year=2) == 0).all() and (worked.sel(year=1) > 0).all() and (worked.sel(year=3) > 0).all()


# a skipped year


def test_missing_a_year_in_which_nobody_comes_costs_nothing():
    late = Crew("staff", {"winter": 5.0}, ("pull",), years=(2, None), turnout_spread=0.2)
    answer = spreadsim.skipped_year(with_crews(experiment(), late), years=[1], **WORLDS)
    row = answer.table.sel(year=1)
    assert float(row["area"]) == float(row["area_low"]) == float(row["area_high"]) == 0.0 == float(row["extra"])
    assert "the same in every world" in answer.sentence and "Nothing has to be made up for" in answer.sentence


def test_missing_the_only_year_of_need_costs_what_grows_and_is_never_brought_back_after_the_end():
    given = experiment()
    answer = spreadsim.skipped_year(given, years=[1, 2, 3], **WORLDS)
    data = spreadsim.compare(
        dataclasses.replace(given, crews=(Crew("staff", {"winter": 5.0}, ("pull",), years=(2, None)),)), replicates=6
    )
    gap = data["infested_area"].sel(strategy="pull", year=3).mean() - 0.0
    assert float(answer.table["area"].sel(year=1)) == pytest.approx(float(gap)) and float(gap) > 0
    assert (answer.table["area"].sel(year=[2, 3]) == 0).all() and math.isnan(float(answer.table["extra"].sel(year=3)))
    assert answer.sentence.startswith('Missing year 1 costs "pull" the most')


# a grant


def test_of_a_grant_for_all_years_everything_is_left():
    answer = spreadsim.left_of_grant(experiment(), lasts=3, year=3, **WORLDS)
    area = answer.table.sel(measure="infested_area")
    assert (area["ended"] == area["going_on"]).all() and float(area["ended"].sel(year=3)) > 0
    assert (area[["share", "share_low", "share_high"]].sel(year=3).to_array() == 1.0).all()


def test_what_is_cleared_for_good_stays_after_the_grant_and_without_vine_there_is_no_gain():
    cleared = spreadsim.left_of_grant(experiment(), lasts=1, year=3, **WORLDS)
    assert float(cleared.table["share"].sel(measure="infested_area", year=3)) == 1.0
    none = spreadsim.left_of_grant(experiment(vine=False), lasts=1, year=3, **WORLDS)
    assert none.table["share"].isnull().all() and "gains nothing" in none.sentence


def test_a_grant_shorter_than_the_need_leaves_the_share_that_its_runs_give():
    mat = np.zeros((6, 6))
    mat[2, 1] = mat[4, 4] = 0.95
    given = experiment(site=spreadsim.Site.from_arrays(2.0, mat=mat))
    answer = spreadsim.left_of_grant(given, lasts=1, year=3, **WORLDS)
    short = with_crews(given, Crew("staff", {"winter": 5.0}, ("pull",), price=10.0, years=(1, 1)))
    ended, going_on = (
        spreadsim.compare(one, replicates=6)["infested_area"].sel(year=3).mean("replicate") for one in (short, given)
    )
    none = float(going_on.sel(strategy="no action"))
    share = (none - float(ended.sel(strategy="pull"))) / (none - float(going_on.sel(strategy="pull")))
    area = answer.table.sel(measure="infested_area")
    assert float(area["share"].sel(year=3)) == pytest.approx(share) and 0.2 < share < 0.95
    assert float(area["share"].sel(year=1)) == 1.0


# now or spread


def test_hours_that_suffice_either_way_are_the_same_now_and_spread():
    answer = spreadsim.now_or_spread(experiment(), within=[1], goals=AREA, **WORLDS)
    assert list(answer.table["within"].values) == [1, 3]
    assert (answer.table["more"] == 0).all() and "the same in every world" in answer.sentence


def test_hours_that_suffice_only_together_are_better_spent_now():
    thin = with_crews(experiment(), Crew("staff", {"winter": NEED / 2}, ("pull",)))
    answer = spreadsim.now_or_spread(thin, goals=AREA, **WORLDS)
    now, spread = answer.table.sel(within=1), answer.table.sel(within=3)
    assert float(now["area"]) == 0.0 < float(spread["area"]) and float(now["worked"]) == NEED
    assert float(now["better"]) == 1.0 and float(now["more_high"]) < 0
    assert "least infested area" in answer.sentence and "within 1 year" in answer.sentence


# two crews


def two_crews(**changes):
    cheap = Crew("friends", {"winter": 5.0}, ("pull",), volunteers=True, paid=False)
    return with_crews(experiment(**changes), Crew("staff", {"winter": 4.2}, ("pull",), price=10.0), cheap)


def test_the_answer_turns_at_the_rate_that_just_buys_the_need():
    answer = spreadsim.contractor_or_volunteers(
        two_crews(), "staff", "friends", rates={"friends": 5.0}, goals=AREA, **WORLDS
    )
    facts = answer.table.attrs
    assert facts["money"] == 42.0 and list(answer.table["hours"].values) == pytest.approx([4.2, 8.4])
    assert (
        42 / NEED / STEP <= facts["turns"] <= 42 / NEED and facts["turns_low"] == facts["turns"] == facts["turns_high"]
    )
    assert facts["better"] == "neither" and "the same in every world as staff" in answer.sentence


def test_a_crew_that_leads_the_other_comes_for_as_long_as_that_takes():
    led = Crew("friends", {"winter": 5.0}, ("pull",), volunteers=True, leader="staff", people_per_leader=5, turnout=0.5)
    staff = Crew("staff", {"winter": 4.2}, ("pull", "cut"), price=10.0)
    tasks = [Task("cut", crews=["staff"]), Task("pull")]  # what only the leader may do is left
    given = experiment(crews=(staff, led), tasks=tasks, funds=(Fund("grant", 500.0, crews=["staff", "friends"]),))
    answer = spreadsim.contractor_or_volunteers(given, "staff", "friends", goals=AREA, **WORLDS)
    assert float(answer.table["rate"].sel(crew="friends")) == 2.0  # a fifth of an hour of staff
    # half an hour of friends comes for one planned: pull takes 4 h of theirs and 0.8 of staff in the one year
    assert float(answer.table["worked"].sel(crew="friends")) == pytest.approx((NEED + NEED / 5) / 3)


# ground and units


def test_ground_that_can_be_kept_is_all_with_the_need_and_none_below_it():
    enough = spreadsim.ground_kept(experiment(), lasting=2, **WORLDS)
    assert enough.table.attrs["most"] == 2 and list(enough.table["unit"].values) == ["west", "east"]
    assert list(enough.table["area"].values) == [72.0, 144.0] and list(enough.table["untouched"].values) == [0.0, 1.0]
    assert "can take on and keep 144 m2 of 144 m2" in enough.sentence
    short = with_crews(experiment(), Crew("staff", {"winter": 1.0}, ("pull",)))
    none = spreadsim.ground_kept(short, lasting=2, **WORLDS)
    assert none.table.attrs["most"] == 0 and 'not even the first unit, "west"' in none.sentence
    east = spreadsim.ground_kept(short, order=["east", "west"], lasting=2, **WORLDS)
    assert east.table.attrs["most"] == 1 and 'With "west" as well' in east.sentence


def test_the_unit_without_vine_is_the_one_to_leave():
    answer = spreadsim.unit_to_leave(experiment(), wait=3, goals=AREA, **WORLDS)
    table = answer.table
    assert list(table["unit"].values) == ["west", "east"] and answer.sentence.startswith('Leave "east" for now')
    assert float(table["waiting"].sel(unit="east")) == 0.0 < float(table["waiting_low"].sel(unit="west"))
    none = spreadsim.compare(experiment(), replicates=6)["infested_area"].sel(strategy="no action", year=3).mean()
    assert float(table["per_hour"].sel(unit="west")) == pytest.approx(float(none) / NEED)
    assert list(table["entry"].values) == [1, 2] and "avoids" not in answer.sentence


def test_where_more_is_better_the_sentence_says_so():
    """Clearing mat leaves more native cover, so all hours now, which clear it, leave the most."""
    thin = with_crews(experiment(), Crew("staff", {"winter": NEED / 2}, ("pull",)))
    answer = spreadsim.now_or_spread(thin, goals=make_goals({"order": ["native_cover"]}), **WORLDS)
    assert "leave the most native cover" in answer.sentence and "within 1 year" in answer.sentence
    assert re.search(r"instead of spread over 3, leave: [\d.]+ % more", answer.sentence)
    assert float(answer.rows[0][1]) > float(answer.rows[-1][1]) > 0


# another invader


def test_ground_without_vine_does_not_mind_the_other_invader_and_the_model_says_what_it_leaves_out():
    answer = spreadsim.other_invader_first(experiment(vine=False), places=[(4, 4, 3)], later=2, goals=AREA, **WORLDS)
    assert (answer.table["area"] == 0).all() and "the same in every world" in answer.sentence
    assert any("does not know" in note for note in answer.notes)


def test_hours_that_the_other_invader_takes_are_missing_in_its_year():
    """The year in which removal takes all hours clears nothing, so the later removal leaves less."""
    shrubs = Event("shrub removal", year=2, x=4.0, y=4.0, radius=3.0)
    given = experiment(years=2, events=(shrubs,))
    answer = spreadsim.other_invader_first(given, later=2, hours=5.0, goals=AREA, **WORLDS)
    assert float(answer.table["score"].sel(case="later")) == 0.0
    # nobody is there in year 1; in year 2 the cell is cleared, and what has crept out of it stays
    assert float(answer.table["score"].sel(case="sooner")) >= 0.0
    late = with_crews(given, Crew("staff", {"winter": 5.0}, ("pull",), years=(2, None)))
    moved = dataclasses.replace(late, events=(dataclasses.replace(shrubs, year=1),))
    area = spreadsim.compare(moved, replicates=6)["infested_area"].sel(strategy="pull", year=2).mean()
    assert float(answer.table["area"].sel(case="sooner")) == pytest.approx(float(area))


# what can't be used

BAD = [
    (lambda e: spreadsim.hours_to_hold(e, "mow"), 'strategy: found "mow", allowed one of "pull"'),
    (lambda e: spreadsim.hours_to_hold(e, crews=["he"]), 'crew: found "he", allowed one of "staff"'),
    (lambda e: spreadsim.hours_to_hold(e, share=1.0), "share: found 1.0, allowed above 0 and below 1"),
    (lambda e: spreadsim.hours_to_hold(e, most=0.5), "most: found 0.5, allowed above 1"),
    (lambda e: spreadsim.hours_to_hold(e, replicates=1), "replicates: found 1, allowed 2 or more"),
    (lambda e: spreadsim.skipped_year(e, years=[9]), "year: found 9, allowed 1 to 3"),
    (lambda e: spreadsim.left_of_grant(e, lasts=3, year=2), "year: found 2, allowed 3 or later"),
    (lambda e: spreadsim.left_of_grant(e, lasts=3, year=8), "year: found 8, allowed 1 to 3"),
    (lambda e: spreadsim.now_or_spread(e, within=[4]), "within: found 4, allowed 1 to 3"),
    (lambda e: spreadsim.contractor_or_volunteers(e, "staff", "staff"), 'crews: found "staff" twice'),
    (lambda e: spreadsim.ground_kept(e, order=["north"]), 'unit: found "north", allowed one of "west", "east"'),
    (lambda e: spreadsim.unit_to_leave(e, wait=0), "wait: found 0, allowed 1 to 3"),
    (lambda e: spreadsim.other_invader_first(e, later=2), "places: found none.* so the model cannot answer"),
    (lambda e: spreadsim.other_invader_first(e, later=2, hours=9.0), "hours: found 9.0, allowed 0 to 5"),
    (lambda e: spreadsim.skipped_year(e, units="feet"), 'units: found "feet", allowed one of "metric", "us"'),
]


@pytest.mark.parametrize(("ask", "told"), BAD, ids=[told.split(",")[0] for _, told in BAD])
def test_what_cannot_be_asked_is_named(ask, told):
    with pytest.raises(InputError, match=told):
        ask(experiment())


def test_an_hour_that_costs_nothing_and_a_site_without_units_are_refused():
    with pytest.raises(InputError, match=r'rate of "friends": found 0\.0, allowed above 0: say what an hour'):
        spreadsim.contractor_or_volunteers(two_crews(), "staff", "friends")
    bare = experiment(site=spreadsim.Site.from_arrays(2.0, mat=np.zeros((4, 4))))
    with pytest.raises(InputError, match="site: found no units"):
        spreadsim.ground_kept(bare)


# the commands

COMMANDS = {
    "hold": ["--in-worlds", "0.5", "--most", "2"],
    "ground": ["--lasting", "2"],
    "leave": ["--wait", "2"],
    "grant": ["--lasts", "2", "--year", "4"],
    "now": ["--within", "1"],
    "crews": ["--first", "staff", "--second", "friends", "--rate", "friends", "10"],
    "skipped": ["--year", "1"],
    "other-first": ["--at", "4", "12", "3", "--later", "3", "--hours", "2"],
}


@pytest.fixture(scope="module")
def asked(tmp_path_factory):
    return written(tmp_path_factory.mktemp("asked"))


@pytest.mark.parametrize("name", COMMANDS)
def test_each_question_is_answered_from_the_command_line(name, asked, tmp_path):
    arguments = ["ask", name, str(asked), "--replicates", "3", "--units", "us", "--out", str(tmp_path), *COMMANDS[name]]
    done = CliRunner().invoke(cli, arguments)
    assert done.exit_code == 0, done.output
    told = done.output.split("\n\n")[0].replace("\n", " ")
    assert '"both"' in told or "No hours" in told
    lines = done.output.splitlines()
    assert max(len(line) for line in lines if not line.startswith(("Files in", "Map"))) <= 80
    assert "nan" not in done.output and "does not forecast a place" in " ".join(lines)
    found = {path.suffix for path in tmp_path.iterdir()}
    assert {".csv", ".txt"} <= found and (name != "leave" or ".png" in found)
    assert not re.search(r"\bm2\b|\bha\b", told)


def test_bad_input_ends_with_two_and_no_traceback(asked):
    from spreadsim.cli import main

    assert main(["ask", "hold", str(asked), "--strategy", "mow"]) == 2
    assert main(["ask", "clear", "--finding", "0.5", "0.9"]) == 2


def test_searches_are_counted_from_a_survey(tmp_path):
    """Two clean days after the last find; two events of one day count once, and other units not at all."""
    records = tmp_path / "records.csv"
    rows = [
        ("1", "2020-01-05", "west", "absent"),
        ("2", "2021-01-05", "west", "present"),
        ("3", "2022-01-05", "west", "absent"),
        ("4", "2022-01-05", "west", "absent"),
        ("5", "2023-02-01", "west", "absent"),
        ("6", "2023-02-01", "east", "absent"),
    ]
    lines = [f"{event},{day},{unit},{status},3" for event, day, unit, status in rows]
    records.write_text("\n".join(["eventID,eventDate,locationID,occurrenceStatus,hours", *lines]) + "\n")
    command = ["ask", "clear", "--survey", str(records), "--finding", "0.5", "0.9"]
    done = CliRunner().invoke(cli, [*command, "--unit", "west"])
    assert done.exit_code == 0 and "after 2 searches" in " ".join(done.output.split())
    with pytest.raises(InputError, match='found no record of unit "north", allowed one of "west", "east"'):
        CliRunner().invoke(cli, [*command, "--unit", "north"], catch_exceptions=False, standalone_mode=False)
