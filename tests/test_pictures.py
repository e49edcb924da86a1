"""The README's pictures are there, small, and made by commands that the README names."""

import re
import shlex
from pathlib import Path

import pytest

from spreadsim.cli_draw import draw

README = Path("README.md").read_text(encoding="utf-8")
PICTURES = re.findall(r"!\[([^\]]*)\]\(([^)]+)\)", README)
BY_COMPARE = ("maps.png", "through-time.png")  # what its main command writes
MOST, MOST_OF_ALL = 150_000, 600_000  # bytes


def commands() -> dict[str, list[str]]:
    """What `spreadsim draw ... --out FILE` of the README is told, by the file."""
    lines = re.findall(r"^(?:\.venv/bin/)?spreadsim draw (.+)$", README.replace("\\\n", " "), re.MULTILINE)
    told = [shlex.split(line) for line in lines]
    return {words[words.index("--out") + 1]: words for words in told if "--out" in words}


def strategies() -> set[str]:
    text = Path("experiments/cut-or-clear/experiment.toml").read_text(encoding="utf-8")
    return set(re.findall(r'^\[\[strategies\]\]\nname = "(.*)"', text, re.MULTILINE))


@pytest.mark.parametrize(("words", "path"), PICTURES)
def test_a_picture_is_there_and_says_what_it_shows_and_how_it_is_made(words, path):
    assert Path(path).is_file() and len(words.split()) >= 3
    made = commands()
    assert path in made or Path(path).name in BY_COMPARE
    if path in made:
        assert Path(path).stat().st_size <= MOST
        options = draw.make_context("draw", list(made[path])).params
        assert str(options["out"]) == path and len(options["whats"]) == 1
        assert set(options["strategies"]) <= strategies()


def test_pictures_stay_small():
    linked = {path for _, path in PICTURES}
    made = [Path(path) for path in commands()]
    assert all(path.is_file() for path in made) and {str(path) for path in made} <= linked
    assert sum(path.stat().st_size for path in made) <= MOST_OF_ALL
    assert PICTURES
