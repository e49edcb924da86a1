"""Tables as plain text."""

import re

import pytest

from spreadsim.analysis.summary import summarise
from spreadsim.views.tables import WIDTH, outcome_tables, pair_tables, table
from tests.analysis.synthetic import NAMES, outcomes

LONG = (
    "no action",
    *(f"a strategy whose name somebody made far too long to fit number {i}" for i in range(6)),
)


def widest(text):
    return max(len(line) for line in text.split("\n"))


def many(names):
    area = {name: 3 - 0.3 * place for place, name in enumerate(names)}
    seeds = {name: 2e6 - 2e5 * place for place, name in enumerate(names)}
    return outcomes(names, area=area, seeds=seeds, noise=0.3)


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("names", [NAMES, LONG])
def test_tables_fit_80_columns(names, system):
    summary = summarise(many(names))
    text = outcome_tables(summary, system=system) + "\n" + pair_tables(summary, system=system)
    assert 60 < widest(text) <= WIDTH
    for name in names:
        for word in name.split():
            assert word in text


def test_the_numbers_are_in_their_rows():
    dataset = outcomes(noise=0.3)
    text = outcome_tables(summarise(dataset))
    block = text.split("\n\n")[0].split("\n")
    assert block[0] == "Infested area, end of year 30 (ha)"
    last = dataset["infested_area"].sel(year=30) / 1e4
    none, first = last.sel(strategy="no action"), last.sel(strategy="stems first")
    rows = [re.split(r"\s{2,}", line.strip()) for line in block[3:]]
    assert [row[0] for row in rows] == list(NAMES)
    assert rows[0][1] == f"{float(none.mean()):.2f}"
    cells = rows[1]
    low, high = (float(first.quantile(share)) for share in (0.05, 0.95))
    difference = first - none
    assert cells[0] == "stems first" and cells[1] == f"{float(first.mean()):.2f}"
    assert cells[2] == f"{low:.2f} to {high:.2f}"
    assert cells[3] == f"{float(difference.mean()):+.2f}"
    assert cells[5] == f"{float((difference < 0).mean()):.0%}".replace("%", " %")


def test_spending_less_is_not_called_better():
    text = outcome_tables(summarise(outcomes()))
    block = next(part for part in text.split("\n\n") if part.startswith("Hours worked"))
    assert "+300" in block and not any("%" in line for line in block.split("\n")[3:])


def test_strategies_are_compared_with_each_other():
    summary = summarise(outcomes(noise=0.3))
    text = pair_tables(summary)
    assert "stems first / mats first" in text and "no action" not in text
    pair = summary.sel(measure="infested_area", strategy="stems first", other="mats first")
    assert f"{float(pair['difference']) / 1e4:+.2f}" in text
    low, high = (round(100 * float(pair[f"better_{end}"])) for end in ("low", "high"))
    assert f"({low} to {high})" in text


def test_many_strategies_are_compared_with_the_best_only():
    names = ("no action", *(f"way {i}" for i in range(6)))
    text = pair_tables(summarise(many(names)))
    block = next(part for part in text.split("\n\n") if part.startswith("Infested area"))
    rows = [line.split("  ")[1] for line in block.split("\n")[3:]]
    assert rows == [f"way 5 / way {i}" for i in range(5)]


def test_nothing_to_compare_leaves_plain_levels():
    summary = summarise(outcomes(("no action",)))
    assert pair_tables(summary) == ""
    assert "minus" not in outcome_tables(summary) and "3.33" in outcome_tables(summary)
    single = outcome_tables(summarise(outcomes(replicates=1)))
    assert "nan" not in single and "%  " not in single.split("\n", 2)[2].split("\n\n")[0]


def test_a_first_column_that_is_too_long_is_wrapped():
    text = table(["", "number"], [["word " * 30, "1"], ["short", "22"]])
    lines = text.split("\n")
    assert widest(text) <= WIDTH and len(lines) > 3
    assert lines[1].endswith(" 1") and lines[-1].endswith("22")


def test_columns_without_room_are_told_below_with_their_rows():
    header = ["", *(f"number {k}" for k in range(6))]
    rows = [["a name of a strategy", *(f"{10**k:,} to {10**14:,}" for k in range(6))], ["other", *"123456"]]
    text = table(header, rows)
    assert widest(text) <= WIDTH
    parts = text.split("\n\n")
    assert len(parts) > 1 and all("other" in part for part in parts)
    told = [
        word for part in parts for line in part.split("\n") if line.startswith("  other") for word in line.split()[1:]
    ]
    assert told == list("123456")
