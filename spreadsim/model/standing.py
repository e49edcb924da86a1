"""The table of every parameter's standing in ODD.md, made from the shipped profiles.

`python -m spreadsim.model.standing` rewrites it; a test fails if page and profiles differ.
"""

from pathlib import Path

from spreadsim.inputs import Parameter, load_treatment, load_vine, treatment_names, vine_names

PAGE = Path(__file__).with_name("ODD.md")
MARK = "<!-- table -->"


def shown(parameter: Parameter) -> str:
    """Value and range in a few characters."""
    if parameter.solved:
        return "solved"
    value = parameter.value
    if isinstance(value, tuple):
        return " ".join(str(part) if isinstance(part, str) else f"{part:g}" for part in value)
    if not isinstance(value, float):
        return str(value)
    if parameter.low is None or parameter.high is None:
        return f"{value:.4g}"
    return f"{value:.4g} ({parameter.low:.4g} to {parameter.high:.4g})"


def row(name: str, parameters: list[Parameter]) -> str:
    """One line of the table; values of several vines side by side where they differ."""
    different = {
        field: list(dict.fromkeys(shown(p) if field == "value" else str(getattr(p, field)) for p in parameters))
        for field in ("value", "unit", "scale", "confidence", "source")
    }
    cells = [name, *(" / ".join(values) for values in different.values())]
    return "| " + " | ".join(cell.replace("|", "/").replace("\n", " ") for cell in cells) + " |"


def table() -> str:
    """The whole table as Markdown."""
    vines = [load_vine(name) for name in sorted(vine_names(), reverse=True)]
    lines = ["| parameter | value | unit | scale | standing | source |", "|---|---|---|---|---|---|"]
    for name in sorted({name for vine in vines for name in vine.parameters}):
        lines.append(row(name, [vine[name] for vine in vines if name in vine.parameters]))
    for treatment in map(load_treatment, sorted(treatment_names())):
        for role in sorted(treatment.parameters):
            lines.append(row(f"{treatment.name}.{role}", [treatment[role]]))
    return "\n".join(lines)


def page_with_table() -> str:
    """ODD.md as it should be."""
    before, _, _ = PAGE.read_text(encoding="utf-8").partition(MARK)
    return f"{before}{MARK}\n{table()}\n"


if __name__ == "__main__":
    PAGE.write_text(page_with_table(), encoding="utf-8")
