"""What the command line says and writes after a run: sentences, tables, pictures, cautions, limits."""

import shlex
import textwrap
from pathlib import Path

import xarray as xr

from spreadsim.analysis.outcomes import strategy_names
from spreadsim.analysis.sentences import LIMITS, sentences, trust
from spreadsim.analysis.summary import summarise
from spreadsim.inputs.experiment import Experiment
from spreadsim.views.description import brief_cautions, fill, notices
from spreadsim.views.tables import outcome_tables, pair_tables

SUMMARY_FILE = "summary.txt"
OUTCOMES_FILE = "outcomes.nc"


def findings(dataset: xr.Dataset, experiment: Experiment, *, system: str = "metric", story: str = "") -> str:
    """Give the answer in sentences, what to start with first, then in tables; lines of at most 80 characters.

    Parameters
    ----------
    dataset
        What `compare` returned.
    experiment
        What was compared.
    system
        Units to show, "metric" or "us".
    story
        How the run went, if there is something to tell: put after the first sentence.
    """
    dataset = _labelled(dataset, experiment)
    summary = summarise(dataset)
    answer, *others = sentences(dataset, summary=summary, system=system)
    parts = [fill(answer), fill(experiment.title), *(fill(notice) for notice in notices(experiment))]
    parts += [*([story] if story else []), *(fill(sentence) for sentence in others)]
    parts.append(outcome_tables(summary, system=system))
    pairs = pair_tables(summary, system=system)
    if pairs:
        parts += ["The strategies among themselves, world by world:", pairs]
    return "\n\n".join(parts)


def write_files(
    dataset: xr.Dataset, experiment: Experiment, folder: Path, text: str, *, system: str = "metric"
) -> list[Path]:
    """Write the findings as text and the figures as PNG and SVG into the folder, and list the files."""
    from spreadsim.views.maps import occupancy_maps, pages
    from spreadsim.views.style import save
    from spreadsim.views.through_time import through_time

    dataset = _labelled(dataset, experiment)
    summary = folder / SUMMARY_FILE
    summary.write_text(text + "\n", encoding="utf-8")
    notice = " ".join(notices(experiment))
    files = [path for path in (folder / OUTCOMES_FILE,) if path.exists()] + [summary]
    figure = through_time(dataset, system=system, notice=notice)
    files += save(figure, folder, "through-time", "Outcomes of each strategy by year, with bands of worlds")
    if "occupancy" in dataset:
        for number, names in enumerate(pages(strategy_names(dataset)), start=1):
            figure = occupancy_maps(dataset, site=experiment.site, system=system, strategies=names, notice=notice)
            told = f"Share of worlds with mat at the start, middle and end: {', '.join(names)}"
            files += save(figure, folder, "maps" if number == 1 else f"maps-{number}", told)
    return files


def closing(dataset: xr.Dataset, experiment: Experiment, folder: Path, files: list[Path]) -> str:
    """Give the cautions in brief, where the files are, and one line of limits."""
    parts = []
    cautions = brief_cautions(experiment)
    if cautions:
        lines = [fill(f"- {text}", "  ") for text in cautions]
        told = "Before anyone goes out (all cautions: spreadsim check):"
        parts.append("\n".join([told, *lines]))
    names = ", ".join(path.name for path in files)
    where = textwrap.fill(f"  {names}", 80, subsequent_indent="  ", break_on_hyphens=False)
    told = "More pictures (hours by season, differences, a moving picture of the maps):"
    parts.append(f"Files in {folder}:\n{where}\n{told}\n  spreadsim draw {shlex.quote(str(folder))}")
    parts.append(fill(f"Limits: {LIMITS} {trust(dataset)}".strip()))
    return "\n\n".join(parts)


def _labelled(dataset: xr.Dataset, experiment: Experiment) -> xr.Dataset:
    """Give the dataset the experiment's title and currency where it has none of its own."""
    own = {name: value for name, value in dataset.attrs.items() if value}
    return dataset.assign_attrs({"title": experiment.title, "currency": experiment.currency} | own)
