"""What a search found, as text and files: the verdict, the strategy in words and as TOML, and what others cost."""

import dataclasses
from pathlib import Path

from spreadsim.analysis.found import Found
from spreadsim.analysis.found_words import found_sentences, front_rows, letters_of, score_with_unit
from spreadsim.guarded import renamed_when_whole
from spreadsim.inputs.strategy_text import strategy_text
from spreadsim.views.description import brief_cautions, fill, notices, strategy_lines
from spreadsim.views.front_chart import front_alt, front_chart
from spreadsim.views.style import save
from spreadsim.views.tables import table


def found_text(found: Found, *, system: str = "metric") -> str:
    """Give what the command prints.

    Parameters
    ----------
    found
        From `planning.search`.
    system
        Units to show, "metric" or "us".

    Returns
    -------
    str
        The verdict, the strategy in words and as TOML that can be pasted into the experiment, the table of costs, and
        the first cautions of what it does.
    """
    parts = [fill(sentence) for sentence in found_sentences(found)]
    parts += [fill(notice) for notice in notices(found.experiment)]
    parts.append(costs_table(found))
    if not found.same_as:
        lines = strategy_lines(found.experiment, found.strategy, system)
        parts.append("\n".join(fill(line, "    ") for line in lines))
        parts.append("To be pasted into the experiment:\n\n" + strategy_text(found.strategy).rstrip())
    alone = dataclasses.replace(found.experiment, strategies=(found.strategy,))
    cautions = [fill(f"- {text}", "  ") for text in brief_cautions(alone)]
    if cautions:
        parts.append("\n".join(["Before anyone goes out (all cautions: spreadsim check):", *cautions]))
    return "\n\n".join(parts)


def costs_table(found: Found) -> str:
    """Give score, hours and money of every strategy, from few hours to many, with letters for long names."""
    rows = front_rows(found.judged)
    letters = letters_of(found.judged)
    head = ["", score_with_unit(found.judged), "h a year", f"{found.judged.attrs['currency']} a year", "not beaten"]
    body = table(head, [[letters[row[0]], *row[1:]] for row in rows])
    key = "\n".join(fill(f"{letter}  {name}", "   ") for name, letter in letters.items())
    said = fill("Not beaten: no other strategy is as low in all three numbers and lower in one.")
    return f"{body}\n\n{key}\n{said}"


def write_found(found: Found, folder: Path) -> list[Path]:
    """Write the strategies as TOML, the numbers as CSV, the words as text, and the picture.

    Returns
    -------
    list of pathlib.Path
        What was written.
    """
    given = set(found.judged["strategy"].values[found.judged["origin"].values == "given"])
    new = [strategy for strategy in found.experiment.strategies if strategy.name not in given]
    texts = {
        "found.toml": "\n".join(strategy_text(strategy) for strategy in new),
        "found.csv": found.judged.to_dataframe().to_csv(lineterminator="\n"),
        "found.txt": found_text(found, system=found.experiment.units) + "\n",
    }
    files = []
    for name, text in texts.items():
        with renamed_when_whole(folder / name) as file:
            file.write(text.encode())
        files.append(folder / name)
    notice = " ".join(notices(found.experiment))
    return files + save(front_chart(found.judged, notice=notice), folder, "found", front_alt(found.judged))
