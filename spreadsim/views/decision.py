"""A decision as text for the terminal, and as files."""

import csv
import io
from collections.abc import Sequence
from pathlib import Path

import xarray as xr

from spreadsim.analysis.decision import Decision
from spreadsim.analysis.decision_words import (
    decision_sentences,
    fact_title,
    facts_to_measure,
    number,
    score_scale,
    score_title,
)
from spreadsim.analysis.own_goals import goals_words, title_of
from spreadsim.analysis.pairs import contrasts
from spreadsim.analysis.sentences import LIMITS
from spreadsim.analysis.surveys import Looking
from spreadsim.analysis.wording import percent
from spreadsim.guarded import renamed_when_whole
from spreadsim.views.description import fill
from spreadsim.views.tables import table


def decision_text(
    dataset: xr.Dataset, decision: Decision, *, system: str = "metric", looking: Looking | None = None
) -> str:
    """Give the whole answer for a terminal of 80 columns.

    Parameters
    ----------
    dataset, decision
        What was decided on, and `analysis.decide` of it.
    system
        Units to show, "metric" or "us".
    looking
        What measuring first was taken to see, as `decide` was told.
    """
    parts = [fill(sentence) for sentence in decision_sentences(dataset, decision, system)]
    asked = fill(goals_words(decision.goals, system))
    body = [options_table(dataset, decision, system)]
    if decision.goals.weights:
        body[0] += "\n\n" + parts_lines(decision)
    if decision.goals.limits:
        body.append(limits_table(decision, system))
    facts = facts_to_measure(dataset, decision, system=system)
    if facts:
        body.append(
            "Most worth measuring on this site:\n"
            + "\n".join(fill(f"{at}. {fact}", "   ") for at, fact in enumerate(facts, 1))
        )
    assumed = [fill(_assumed(looking or Looking()))] if "net" in decision.survey else []
    return "\n\n".join([*parts[:1], asked, *body[:1], *parts[1:], *body[1:], *assumed, fill(LIMITS)])


def parts_lines(decision: Decision) -> str:
    """Say of each option what its weighted score is made of."""
    weights = " + ".join(f"{weight:g} x {title_of(name)}" for name, weight in decision.goals.weights.items())
    part, amount = (decision.scored[name].mean("replicate") for name in ("part", "amount"))
    lines = [fill(f"What the scores are made of (score = {weights}; areas in m2, native cover counts against):")]
    for name in _in_order(decision):
        each = [
            f"{number(float(part.sel(strategy=name, outcome=one)))} of {title_of(one)} "
            f"{number(float(amount.sel(strategy=name, outcome=one)))}"
            for one in decision.goals.weights
        ]
        total = number(float(decision.options["mean"].sel(strategy=name)))
        lines.append(fill(f"{name}: {total} = {' + '.join(each)}", "    "))
    return "\n".join(lines)


def _assumed(looking: Looking) -> str:
    return (
        f"Measuring is taken to give {looking.readings_an_hour:g} readings an hour, shared among the facts worth "
        f"knowing, each erring by {looking.error:g} times what is not known of the fact (assumed; "
        "--readings-an-hour and --reading-error change it)."
    )


def options_table(dataset: xr.Dataset, decision: Decision, system: str = "metric") -> str:
    """Give the options from the best, with score, regret and chance of being the best."""
    scale = score_scale(dataset, decision, system)
    rows = []
    for name in _in_order(decision):
        row = decision.options.sel(strategy=name)
        best = float(row["best"])
        rows.append(
            [
                _short(name),
                scale.text(float(row["mean"])),
                "-"
                if name == decision.choice
                else f"{scale.text(float(row['ahead_low']))} to {scale.text(float(row['ahead_high']))}",
                percent(best),
                scale.text(float(row["regret"])),
                "yes" if bool(row["within"]) else "no",
            ]
        )
    heads = ["option", "score", "above the choice", "best in", "regret"]
    if decision.goals.limits:
        heads.append("in limits")
    else:
        rows = [row[:-1] for row in rows]
    title = f"{score_title(decision)}, {scale.unit}"
    missing = bool(decision.options["regret"].isnull().any())
    note = "; - : left out before the score, by a limit or an earlier goal" if missing else ""
    return fill(f"Score: {title}{note}") + "\n" + table(heads, rows)


def limits_table(decision: Decision, system: str = "metric") -> str:
    """Give for each limit the share of worlds in which each option breaks it."""
    blocks = []
    for at, limit in enumerate(decision.goals.limits):
        rows = []
        for name in _in_order(decision):
            row = decision.broken.isel(limit=at).sel(strategy=name)
            span = f"{percent(float(row['low']))} to {percent(float(row['high']))}"
            rows.append([_short(name), percent(float(row["share"])), span])
        blocks.append(
            fill(f"Limit: {limit.words(system)} (allowed to fail in {percent(limit.often)} of worlds)")
            + "\n"
            + table(["option", "broken in", "interval"], rows)
        )
    return "\n\n".join(blocks)


def write_decision(dataset: xr.Dataset, decision: Decision, folder: Path, text: str) -> list[Path]:
    """Write the decision, every pair, the score's parts and what is worth knowing; each file is whole or not there.

    Returns
    -------
    list of Path
        decide.txt, decide.csv, decide-parts.csv, decide-pairs.csv and, with parameters, decide-facts.csv.
    """
    files = {"decide.txt": text + "\n", "decide.csv": _options(decision), "decide-parts.csv": _parts(decision)}
    if len(dataset["strategy"]) > 1:
        files["decide-pairs.csv"] = _pairs(dataset, decision)
    if "value" in decision.knowing:
        files["decide-facts.csv"] = _facts(dataset, decision)
    return [_written(folder / name, content) for name, content in files.items()]


def _in_order(decision: Decision) -> list[str]:
    return [str(name) for name in decision.options.sortby("rank")["strategy"].values]


def _short(name: str) -> str:
    return name if len(name) <= 26 else name[:25] + "…"


def _options(decision: Decision) -> str:
    columns = [
        "mean",
        "ahead",
        "ahead_low",
        "ahead_high",
        "best",
        "best_low",
        "best_high",
        "regret",
        "regret_low",
        "regret_high",
        "within",
    ]
    limits = [str(words) for words in decision.broken["limit"].values]
    rows = []
    for name in _in_order(decision):
        row = decision.options.sel(strategy=name)
        shares = [decision.broken["share"].isel(limit=at).sel(strategy=name).item() for at in range(len(limits))]
        rows.append([name, *(row[column].item() for column in columns), *shares])
    return _csv(["strategy", *columns, *(f"broken: {words}" for words in limits)], rows)


def _parts(decision: Decision) -> str:
    part, amount = (decision.scored[name].mean("replicate") for name in ("part", "amount"))
    rows = [
        [
            name,
            outcome,
            float(amount.sel(strategy=name, outcome=outcome)),
            float(decision.scored["weight"].sel(outcome=outcome)),
            float(part.sel(strategy=name, outcome=outcome)),
        ]
        for name in _in_order(decision)
        for outcome in [str(one) for one in decision.scored["outcome"].values]
    ]
    return _csv(["strategy", "outcome", "mean_amount", "weight", "part_of_score"], rows)


def _pairs(dataset: xr.Dataset, decision: Decision) -> str:
    every = contrasts(dataset, years=[decision.goals.year], confidence=float(decision.options.attrs["confidence"]))
    frame = every.squeeze("year").reset_coords("year").to_dataframe().reset_index()
    return str(frame.drop(columns="pair").to_csv(index=False, lineterminator="\n"))


def _facts(dataset: xr.Dataset, decision: Decision) -> str:
    knowing, indices = decision.knowing, decision.sensitivity.reindex(parameter=decision.knowing["parameter"].values)
    rows = [
        [
            name,
            fact_title(dataset, name),
            *(knowing[key].sel(parameter=name).item() for key in ("value", "error", "above_noise")),
            *(indices[key].sel(parameter=name).item() for key in ("index", "error", "direction")),
        ]
        for name in [str(one) for one in knowing["parameter"].values]
    ]
    heads = ["parameter", "words", "value_of_knowing", "value_error", "above_noise", "share_of_variance", "share_error"]
    return _csv([*heads, "rank_correlation"], rows)


def _csv(heads: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(heads)
    writer.writerows(rows)
    return out.getvalue()


def _written(path: Path, content: str) -> Path:
    with renamed_when_whole(path) as file:
        file.write(content.encode())
    return path
