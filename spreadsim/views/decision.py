"""A decision as text for the terminal, and as files."""

import csv
import io
import os
from collections.abc import Sequence
from pathlib import Path

import xarray as xr

from spreadsim.analysis.decision import Decision
from spreadsim.analysis.decision_words import (
    decision_sentences,
    fact_title,
    facts_to_measure,
    number,
    score_title,
    score_unit,
)
from spreadsim.analysis.pairs import contrasts
from spreadsim.analysis.sentences import LIMITS
from spreadsim.analysis.wording import percent
from spreadsim.views.description import fill
from spreadsim.views.tables import table


def decision_text(dataset: xr.Dataset, decision: Decision) -> str:
    """Give the whole answer for a terminal of 80 columns."""
    parts = [fill(sentence) for sentence in decision_sentences(dataset, decision)]
    body = [options_table(dataset, decision)]
    if decision.goals.limits:
        body.append(limits_table(decision))
    facts = facts_to_measure(dataset, decision)
    if facts:
        body.append(
            "Most worth knowing on this site:\n"
            + "\n".join(fill(f"{at}. {fact}", "   ") for at, fact in enumerate(facts, 1))
        )
    return "\n\n".join([*parts[:1], *body[:1], *parts[1:], *body[1:], fill(LIMITS)])


def options_table(dataset: xr.Dataset, decision: Decision) -> str:
    """Give the options from the best, with score, regret and chance of being the best."""
    rows = []
    for name in _in_order(decision):
        row = decision.options.sel(strategy=name)
        best = float(row["best"])
        rows.append(
            [
                _short(name),
                number(float(row["mean"])),
                "-"
                if name == decision.choice
                else f"{number(float(row['ahead_low']))} to {number(float(row['ahead_high']))}",
                percent(best),
                number(float(row["regret"])),
                "yes" if bool(row["within"]) else "no",
            ]
        )
    heads = ["option", "score", "above the choice", "best in", "regret"]
    if decision.goals.limits:
        heads.append("in limits")
    else:
        rows = [row[:-1] for row in rows]
    title = f"{score_title(decision)}, {score_unit(dataset, decision)}"
    missing = bool(decision.options["regret"].isnull().any())
    note = "; - : left out before the score, by a limit or an earlier goal" if missing else ""
    return fill(f"Score: {title}{note}") + "\n" + table(heads, rows)


def limits_table(decision: Decision) -> str:
    """Give for each limit the share of worlds in which each option breaks it."""
    blocks = []
    for at, words in enumerate(decision.broken["limit"].values):
        rows = []
        for name in _in_order(decision):
            row = decision.broken.isel(limit=at).sel(strategy=name)
            span = f"{percent(float(row['low']))} to {percent(float(row['high']))}"
            rows.append([_short(name), percent(float(row["share"])), span])
        often = percent(decision.goals.limits[at].often)
        blocks.append(
            fill(f"Limit: {words} (allowed to fail in {often} of worlds)")
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
    part = path.with_name(path.name + ".part")
    part.write_text(content, encoding="utf-8", newline="")
    os.replace(part, path)
    return path
