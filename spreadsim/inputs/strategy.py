"""A strategy: tasks in order of priority."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from spreadsim.inputs.checks import Check
from spreadsim.inputs.task import Task

NO_ACTION = "no action"


@dataclass(frozen=True, init=False)
class Strategy:
    """Tasks in order of priority.

    Attributes
    ----------
    name : str
        What to call it.
    tasks : tuple of Task
        The first is served first; none: no action.
    reserve_follow_up : bool
        Whether hours of follow-up are set aside before new ground is opened.
    why : str
        The thought behind it.
    """

    name: str
    tasks: tuple[Task, ...] = ()
    reserve_follow_up: bool = True
    why: str = ""

    def __init__(self, name: str, *, tasks: Sequence[Task] = (), reserve_follow_up: bool = True, why: str = "") -> None:
        """Check and freeze a strategy; what is not allowed is an `InputError`."""
        check = Check(f'Strategy "{name}"')
        values = {
            "name": check.text("name", name, empty=False),
            "tasks": check.instances("tasks", tasks, Task),
            "reserve_follow_up": check.flag("reserve_follow_up", reserve_follow_up),
            "why": check.text("why", why),
        }
        check.done()
        for field, value in values.items():
            object.__setattr__(self, field, value)

    def to_dict(self) -> dict[str, Any]:
        """Give everything as plain data that JSON can hold."""
        tasks = [task.to_dict() for task in self.tasks]
        return {
            "name": self.name,
            "tasks": tasks,
            "reserve_follow_up": self.reserve_follow_up,
            "why": self.why,
        }

    @classmethod
    def from_dict(cls, data: Mapping[str, Any]) -> Strategy:
        """Make a strategy of what `to_dict` gave."""
        return cls(**{**data, "tasks": [Task.from_dict(task) for task in data["tasks"]]})
