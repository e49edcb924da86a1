"""Rows of results: what was measured, the target, and whether it was met; as text, JSON and a table."""

import argparse
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path


@dataclass(frozen=True)
class Row:
    """One figure.

    Attributes
    ----------
    what
        What was measured, and against what.
    value
        The figure.
    unit
        Its unit; "times" for a ratio of two measurements of one run.
    least, most
        The target: no less, or no more, than this; None: no target.
    """

    what: str
    value: float
    unit: str
    least: float | None = None
    most: float | None = None

    @property
    def target(self) -> str:
        """The target in words."""
        if self.least is not None:
            return f"at least {self.least:g}"
        return "" if self.most is None else f"at most {self.most:g}"

    @property
    def met(self) -> str:
        """Whether it was met."""
        if self.least is None and self.most is None:
            return ""
        low = self.least is not None and self.value < self.least
        high = self.most is not None and self.value > self.most
        return "no" if low or high else "yes"


def figure(value: float) -> str:
    """A number with three digits that count."""
    return f"{value:,.0f}" if abs(value) >= 100 else f"{value:.3g}"


def tell(rows: Sequence[Row]) -> None:
    """Print rows, one a line."""
    for row in rows:
        judged = f"  [{row.target}: {row.met}]" if row.target else ""
        print(f"{row.what}: {figure(row.value)} {row.unit}{judged}", flush=True)


def table(rows: Sequence[Row]) -> str:
    """Rows as a table in Markdown."""
    lines = ["| what | measured | unit | target | met |", "|---|---|---|---|---|"]
    lines += [f"| {row.what} | {figure(row.value)} | {row.unit} | {row.target} | {row.met} |" for row in rows]
    return "\n".join(lines) + "\n"


def parser(description: str) -> argparse.ArgumentParser:
    """What all scripts take: --json, a file for their rows."""
    made = argparse.ArgumentParser(description=description, formatter_class=argparse.RawDescriptionHelpFormatter)
    made.add_argument("--json", type=Path, help="also write the rows to this file")
    return made


def finish(rows: Sequence[Row], path: Path | None) -> None:
    """Write rows to a file, if one is named."""
    if path is not None:
        partial = path.with_name(path.name + ".partial")
        partial.write_text(json.dumps([asdict(row) for row in rows], indent=1), encoding="utf-8")
        partial.replace(path)


def read(path: Path) -> list[Row]:
    """Rows that a script wrote."""
    return [Row(**row) for row in json.loads(path.read_text(encoding="utf-8"))]
