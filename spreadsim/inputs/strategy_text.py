"""A strategy as it stands in an experiment file, so that it can be pasted there."""

from typing import Any

from spreadsim.inputs.strategy import Strategy
from spreadsim.inputs.task import FollowUp, Task

_USUAL = Task("any").to_dict()


def strategy_text(strategy: Strategy) -> str:
    """Give a strategy as TOML; what is as usual is left out.

    Returns
    -------
    str
        Tables ``[[strategies]]`` and ``[[strategies.tasks]]``, which `read_experiment` reads to the same strategy.
    """
    lines = ["[[strategies]]", f"name = {_value(strategy.name)}"]
    if strategy.why:
        lines.append(f"why = {_value(strategy.why)}")
    if not strategy.reserve_follow_up:
        lines.append("reserve_follow_up = false")
    for task in strategy.tasks:
        lines += ["", "[[strategies.tasks]]"]
        plain = task.to_dict()
        for key in ("name", "treatment", *(key for key in plain if key not in ("name", "treatment"))):
            if plain[key] != _USUAL[key] or key == "treatment":
                lines.append(f"{key} = {_follow_up(task.follow_up) if key == 'follow_up' else _value(plain[key])}")
    return "\n".join(lines) + "\n"


def _follow_up(follow_up: FollowUp | None) -> str:
    if follow_up is None:
        raise ValueError("no follow-up has no text")
    text = f"every = {follow_up.every}, clean = {follow_up.clean}"
    if follow_up.treatment is not None:
        text += f", treatment = {_value(follow_up.treatment)}"
    return f"{{ {text} }}"


def _value(value: Any) -> str:
    """Give a text, a truth value, a number or a list of them as TOML has it; a missing last year is left out."""
    if isinstance(value, str):
        return '"' + "".join(_character(one) for one in value) + '"'
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return "[" + ", ".join(_value(one) for one in value if one is not None) + "]"
    return repr(value)


def _character(one: str) -> str:
    if one in '"\\':
        return "\\" + one
    return one if one >= " " and one != "\x7f" else f"\\u{ord(one):04x}"
