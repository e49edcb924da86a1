"""How long until something is seen: `spreadsim --help`, and the demo's first result with a cold and a warm cache.

The first result is `spreadsim compare` of the park in experiments/cut-or-clear with two replicates, pictures and all; its
words, sentences and tables, are printed before the pictures are drawn, and told apart. Cold:
in a new, empty SPREADSIM_CACHE, so that all kernels are compiled; warm: again in the same one. Each is a process of its own,
and the median of several counts. Beside the seconds stands the ratio to starting bare Python in the same run.
"""

import statistics
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from children import seconds, seconds_to_words
from report import Row, finish, parser, tell

DEMO = Path(__file__).parent.parent / "cut-or-clear" / "experiment.toml"


def first_result(experiment: Path, cache: str | None, replicates: int) -> tuple[float, float]:
    """Time of an experiment with few replicates, to its first words and to its end, s; no cache folder: the usual one."""
    with tempfile.TemporaryDirectory() as out:
        command = [
            sys.executable,
            "-m",
            "spreadsim",
            "compare",
            str(experiment),
            "--replicates",
            str(replicates),
            "--out",
            out,
        ]
        return seconds_to_words(command, {"SPREADSIM_CACHE": cache} if cache else None)


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure and print."""
    taken = parser(__doc__ or "")
    taken.add_argument("--times", type=int, default=3, help="how often the demo is run, cold and warm")
    taken.add_argument("--helps", type=int, default=11, help="how often --help is asked")
    taken.add_argument("--replicates", type=int, default=2)
    taken.add_argument("--no-cold", action="store_true", help="leave out the cold cache; warm is then the usual cache")
    taken.add_argument("--experiment", type=Path, default=DEMO, help="in place of the demo")
    asked = taken.parse_args(arguments)
    bare, helped, cold, warm = [], [], [], []
    for _ in range(asked.helps):
        bare.append(seconds([sys.executable, "-c", "pass"]))
        helped.append(seconds([sys.executable, "-m", "spreadsim", "--help"]))
    if asked.no_cold and asked.times:
        first_result(asked.experiment, None, asked.replicates)
    for _ in range(asked.times):
        if asked.no_cold:
            warm.append(first_result(asked.experiment, None, asked.replicates))
            continue
        with tempfile.TemporaryDirectory() as cache:
            cold.append(first_result(asked.experiment, cache, asked.replicates))
            warm.append(first_result(asked.experiment, cache, asked.replicates))
    real = asked.experiment == DEMO
    name = "the demo" if real else asked.experiment.parent.name
    python = statistics.median(bare)
    rows = [Row("start: bare Python", python, "s")]
    words = [[one[0] for one in took] for took in (cold, warm)]
    whole = [[one[1] for one in took] for took in (cold, warm)]
    for what, took, most in (
        ("spreadsim --help", helped, 0.4),
        (f"{name}'s first result in words, cold cache", words[0], None),
        (f"{name}'s first result, cold cache", whole[0], 25.0 if real else None),
        (f"{name}'s first result in words, warm cache", words[1], None),
        (f"{name}'s first result, warm cache", whole[1], 4.0 if real else None),
    ):
        if took:
            middle = statistics.median(took)
            rows.append(Row(f"start: {what}", middle, "s", most=most))
            rows.append(Row(f"start: {what} / bare Python", middle / python, "times"))
    tell(rows)
    finish(rows, asked.json)


if __name__ == "__main__":
    main()
