"""Planned against done: held to a plain count, its sentences, its table within 80 columns, its picture."""

from collections import Counter, defaultdict
from datetime import date, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spreadsim import InputError, planned_against_done, read_log
from spreadsim.log import Entry, Log
from spreadsim.log.planned import CREW_HOURS, crew_hours, found_rows
from spreadsim.log.words import CSV_HEADER, HEADER, csv_rows, log_sentences, season_tables
from spreadsim.schema import SEASONS
from spreadsim.views.log_chart import log_alt, log_chart
from spreadsim.views.style import save
from spreadsim.views.tables import table

from .wood import EAST, MAPPED, experiment, take

HEAD = "session,season,year,crew,unit,task,place,planned_hours,strategy,date,done,hours,people,found,something_else,corrects"


@st.composite
def logs(draw) -> Log:
    """Lines of lists and others, some with corrections."""
    entries: list[Entry] = []
    for k in range(draw(st.integers(1, 25))):
        listed = draw(st.booleans())
        done = draw(st.sampled_from(["yes", "part", "no", ""]))
        worked = done in ("yes", "part")
        open_lines = [e.line for e in entries if e.line not in {other.corrects for other in entries}]
        entries.append(
            Entry(
                line=f"2025-1:{k}",
                corrects=draw(st.sampled_from(open_lines)) if open_lines and draw(st.integers(0, 4)) == 0 else "",
                date=date(2024, 12, 1) + timedelta(days=draw(st.integers(0, 700))) if worked or not listed else None,
                crew="staff",
                hours=draw(st.integers(0, 40)) / 4 if worked else None,
                done=done,
                unit=draw(st.sampled_from(["", "west", EAST])),
                place=draw(st.sampled_from(["H1", "H2", "G1", ""])),
                task=draw(st.sampled_from(["stems", "pull", ""])),
                treatment="cut",
                found=draw(st.sampled_from([None, 1, 3])) if worked else None,
                something_else=draw(st.sampled_from([None, 2])) if worked else None,
                session=draw(st.integers(1, 3)) if listed else None,
                season=draw(st.sampled_from(SEASONS)) if listed else "",
                year=draw(st.integers(1, 2)) if listed else None,
                planned_hours=draw(st.integers(0, 40)) / 4 if listed else None,
            )
        )
    return Log(tuple(entries), MAPPED)


def season_by_hand(day: date) -> int:
    """December 2024 begins year 1."""
    months = 12 * (day.year - 2024) + day.month - 12
    return months // 3


@given(logs())
@settings(max_examples=200, deadline=None)
def test_the_table_is_a_plain_count(log):
    replaced = {entry.corrects for entry in log.entries}
    planned, hours, found, other = Counter(), Counter(), Counter(), Counter()
    answers = defaultdict(lambda: ([], []))
    for entry in log.entries:
        if entry.line in replaced:
            continue
        name, where = entry.task or entry.treatment, entry.place or entry.unit
        own = None if entry.date is None else season_by_hand(entry.date)
        if entry.session is not None:
            key = 4 * (entry.year - 1) + SEASONS.index(entry.season), name, entry.unit
            planned[key] += entry.planned_hours
            answers[(*key, where)][0].append(entry.done)
        elif entry.done:
            answers[(own, name, entry.unit, where)][1].append(entry.done)
        if own is not None:
            key = own, name, entry.unit
            hours[key] += entry.hours or 0
            found[key] += entry.found or 0
            other[key] += entry.something_else or 0
    rows = [row for row in planned_against_done(experiment(), log) if row.task != CREW_HOURS]
    for row in rows:
        key = row.season, row.task, row.unit
        assert row.planned_hours == pytest.approx(planned.pop(key, 0)) and row.hours == pytest.approx(hours.pop(key, 0))
        assert (row.found, row.something_else) == (found.pop(key, 0), other.pop(key, 0))
        for place, became in row.places.items():
            listed, free = answers.pop((*key, place))
            if "yes" in free or (listed and all(one == "yes" for one in listed)):
                assert became == "yes"
            elif {"yes", "part"} & set(listed + free):
                assert became == "part"
            else:
                assert became == ("" if "" in listed + free else "no")
    assert not any((*planned.values(), *hours.values(), *found.values(), *other.values())) and not answers


@given(logs())
@settings(max_examples=40, deadline=None)
def test_whatever_the_log_it_is_told_within_80_columns(log):
    rows = planned_against_done(experiment(), log)
    for text in log_sentences(log, rows):
        assert text.endswith(".") and "nan" not in text
    for title, lines in season_tables(rows):
        assert max(map(len, f"{title}\n{table(HEADER, lines)}".splitlines())) <= 80
    cells = list(csv_rows(rows))
    assert cells[0] == CSV_HEADER and all(len(row) == len(CSV_HEADER) for row in cells) and len(cells) == len(rows) + 1


def test_crews_hours_stand_in_where_nothing_was_planned(tmp_path):
    take(tmp_path, "2024-12-10,west,,stems,,friends,6,3,yes,,,,\n2025-07-02,west,,pull,,staff,2,1,yes,,,,")
    log = read_log(experiment(), tmp_path / "log")
    rows = planned_against_done(experiment(), log)
    assert [(row.season, row.planned_hours) for row in rows if row.task == CREW_HOURS] == [(0, 28), (1, 20), (2, 8)]
    assert crew_hours(experiment(), 4) == 28
    told = list(log_sentences(log, rows))
    assert told[0] == "Winter of year 1 to summer of year 1: 8 h worked of 56 h planned, 14 %."
    assert told[1].startswith(
        "For 3 seasons no line says what was planned, so the hours that the experiment's crews plan"
    )


def test_beside_a_work_list_crews_hours_are_no_plan(tmp_path):
    """One session of no list, in a season that no list planned, does not add all that crews could have worked."""
    text = "1,winter,1,staff,west,stems,H1,4.0,stems first,2025-01-10,yes,3,2,,,"
    take(tmp_path, text, head=HEAD, name="list.csv")
    alone = read_log(experiment(), tmp_path / "log")
    planned = sum(row.planned_hours for row in planned_against_done(experiment(), alone))
    take(tmp_path, ",,,staff,west,pull,,,,2025-07-02,yes,1,1,,,", head=HEAD, name="free.csv")
    log = read_log(experiment(), tmp_path / "log")
    rows = planned_against_done(experiment(), log)
    assert sum(row.planned_hours for row in rows) == planned == 4.0
    assert not [row for row in rows if row.task == CREW_HOURS]
    assert [(row.season, row.planned_hours, row.hours) for row in rows] == [(0, 4.0, 3.0), (2, 0.0, 1.0)]
    told = list(log_sentences(log, rows))
    assert told[0].endswith("3 h worked of 4 h planned, 75 %; and 1 h on what no list planned.") and not any(
        "stand for it" in text for text in told
    )
    lines = dict(season_tables(rows))["Summer of year 1"]
    assert lines[0][1] == "-"


def test_a_word_for_a_count_is_told_once(tmp_path):
    lines = [f",,,staff,west,pull,,,,2025-07-0{k},yes,1,1,{found},{other}," for k, found, other in
             ((2, "two", "oak"), (3, "3", "ash tree"), (4, "", "2"))]  # fmt: skip
    with pytest.raises(InputError) as told:
        take(tmp_path, "\n".join(lines), head=HEAD, name="words.csv")
    text = str(told.value)
    assert text.count("allowed a count: how many, a whole number") == 2 and text.count("found: found") == 1
    assert 'line 2, found: found "two"' in text and 'line 2, something_else: found "oak"' in text
    assert "(as in 1 more line)" in text and "ash tree" not in text and "finite" not in text


def test_what_is_said_of_a_work_list(tmp_path):
    rows = [f"1,winter,1,staff,west,stems,H{k},2.0,stems first,2025-01-{k + 10},yes,{3 + k % 2},2,," for k in range(8)]
    rows += ["1,winter,1,staff,west,stems,H20,2.0,stems first,2025-01-10,part,1,2,4,"]
    rows += [
        f"2,winter,1,friends,'{EAST},pull,G1,30.0,stems first,,no,,,,",
        "3,spring,1,friends,west,pull,G2,9,stems first,,,,,,",
    ]
    take(tmp_path, "\n".join(row + "," for row in rows), head=HEAD)
    take(tmp_path, ",,,,,,,,,,yes,4,,,1,2025-1:9", head=HEAD)
    log = read_log(experiment(), tmp_path / "log")
    told = list(log_sentences(log, planned_against_done(experiment(), log)))
    assert told[0] == "Winter of year 1: 32 h worked of 48 h planned, 67 %."
    assert told[1] == "Most is left undone in: pull, =1+1, winter of year 1 (30 h of 30 h)."
    assert told[2].startswith("9 h are planned for seasons after the newest day of the log")
    assert told[3] == "Of 10 planned places 9 are done, 0 in part, 1 not; 0 have no entry."
    assert told[4].startswith(
        "Planned work that was done and timed (9 lines) took 32 h where 18 h were planned, 1.78 times"
    )
    assert told[4].endswith("The plan's hours were too few.")
    assert told[5] == "1 of what was gone to turned out to be something else."
    assert told[6] == "1 line is corrected by a newer one, which counts; both stay."
    assert "4" not in [str(row[6]) for row in found_rows(experiment(), log)], "what was corrected away was not found"


def test_the_interval_of_the_ratio_holds_the_truth_as_often_as_it_says():
    """Held against 200 logs of 12 places whose hours are 1.5 times the plan on average.

    An interval that keeps its 90 % misses in 43 of 200 or more with a chance of 1.2e-6 (binomial).
    """
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(200):
        planned = rng.uniform(1, 4, 12)
        hours = planned * 1.5 * rng.gamma(8, 1 / 8, 12)
        entries = [
            Entry(f"2025-1:{k}", date=date(2025, 1, 5), hours=float(h), done="yes", place=f"H{k}", task="cut", session=1,
                  season="winter", year=1, planned_hours=float(p))
            for k, (h, p) in enumerate(zip(hours, planned, strict=True))
        ]  # fmt: skip
        log = Log(tuple(entries), MAPPED)
        told = next(text for text in log_sentences(log, planned_against_done(experiment(), log)) if "interval" in text)
        low, high = (float(word) for word in told.split("90 % interval ")[1].split(")")[0].split(" to "))
        held += low - 0.05 <= 1.5 <= high + 0.05  # two digits are told
    assert 158 <= held < 200


def test_an_empty_log_and_one_without_days():
    assert list(log_sentences(Log(), [])) == ["The log has no lines yet."]
    log = Log(
        (Entry("2025-1:1", place="H1", task="cut", session=1, season="winter", year=1, planned_hours=3.0),), MAPPED
    )
    told = list(log_sentences(log, planned_against_done(experiment(), log)))
    assert told[0] == "No line has a day yet, so nothing counts as done."


def test_what_was_found_is_listed_with_its_place(tmp_path):
    take(
        tmp_path,
        "2025-01-10,,5,stems,,staff,1,1,yes,2,,near a fence,\n2025-01-11,west,,@look,,staff,1,1,yes,,3,,\n"
        "2025-01-12,west,,@look,,staff,1,1,yes,,,,",
    )
    rows = found_rows(experiment(), read_log(experiment(), tmp_path / "log"))
    hosts = experiment().site.hosts
    assert len(rows) == 3 and rows[1][3:8] == ("H5", 1000 + hosts.x[5], 2000 + hosts.y[5], 2, 0)
    assert rows[2][2:8] == ("west", "west", "", "", 0, 3)


def test_the_picture(tmp_path):
    take(
        tmp_path,
        "\n".join(
            f"1,winter,1,staff,west,{task},H1,2.0,stems first,2025-01-10,yes,3,2,,," for task in ("stems", "pull")
        )
        + "\n2,spring,1,friends,west,pull,G1,6,stems first,,,,,,,",
        head=HEAD,
    )
    rows = planned_against_done(experiment(), read_log(experiment(), tmp_path / "log"))
    figure = log_chart(rows, title="A $wood$", notice="Invented.")
    (axes,) = figure.axes
    assert [label.get_text() for label in axes.get_yticklabels()] == ["pull", "stems", "pull"]
    widths = [bar.get_width() for bar in axes.patches]
    assert widths == [2, 3, 2, 3, 6, 0]
    texts = [text.get_text() for text in axes.texts]
    assert texts == ["Winter of year 1", "3 of 2 h", "3 of 2 h", "Spring of year 1", "0 of 6 h"]
    assert "winter of year 1: pull 3 of 2 h, stems 3 of 2 h" in log_alt(rows)
    assert "Invented." in figure.get_suptitle()
    light = [sum(bar.get_facecolor()[:3]) / 3 for bar in axes.patches[:2]]
    assert light[0] - light[1] > 0.5, "grey paper tells planned from done"
    assert {path.name for path in save(figure, tmp_path, "chart", log_alt(rows))} == {"chart.png", "chart.svg"}
