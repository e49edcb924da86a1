"""Bad input: how problems are worded, collected and raised."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import PurePath
from typing import NamedTuple

_LONGEST = 80


class _Missing:
    """Stands for something that should be there and is not."""

    def __repr__(self) -> str:
        return "nothing"


MISSING = _Missing()


class Said(str):
    """Words about a value, shown as they are where a text from outside would be shown in quotes."""

    __slots__ = ()


class Problem(NamedTuple):
    """One thing that is wrong: where it stands, and what is wrong with it.

    Attributes
    ----------
    file : str
        The file, or the object in a script (``Crew "staff"``); empty if neither is known.
    place : str
        The place in it, such as ``strategies[2].tasks[0].share``; empty for the whole of it.
    text : str
        What was found and what is allowed.
    """

    file: str
    place: str
    text: str

    def __str__(self) -> str:
        """Join the parts that are known."""
        return ": ".join(part for part in self if part)


class InputError(ValueError):
    """Input that cannot be used; says everything that is wrong with it at once.

    Parameters
    ----------
    *problems : str or Problem
        One for each thing that is wrong.
    remarks : iterable of Problem
        What was noticed besides and would stop nothing.

    Attributes
    ----------
    problems : tuple of str
        One line each; `str` of the error joins them with newlines.
    details : tuple of Problem
        The same, in parts.
    remarks : tuple of Problem
        No part of the text of the error.
    """

    def __init__(self, *problems: str | Problem, remarks: Iterable[Problem] = ()) -> None:
        super().__init__(*problems)
        self.remarks: tuple[Problem, ...] = tuple(remarks)
        self.details: tuple[Problem, ...] = tuple(
            problem if isinstance(problem, Problem) else Problem("", "", str(problem)) for problem in problems
        )
        self.problems: tuple[str, ...] = tuple(str(problem) for problem in self.details)

    def __str__(self) -> str:
        """Give one line for each problem."""
        return "\n".join(self.problems)


class Problems:
    """Collects what is wrong, so that all of it is reported together; apart from it, what is only worth a look."""

    def __init__(self) -> None:
        self._found: list[Problem] = []
        self._said: set[Problem | tuple[str, str]] = set()  # problems and their places, to find them at once
        self._remarks: list[Problem] = []

    def __len__(self) -> int:
        """Count the problems so far."""
        return len(self._found)

    @property
    def found(self) -> tuple[Problem, ...]:
        """The problems so far."""
        return tuple(self._found)

    @property
    def remarks(self) -> tuple[Problem, ...]:
        """What was remarked so far; it is no part of the problems and of their number."""
        return tuple(self._remarks)

    def add(self, file: str, place: str, found: object, allowed: str) -> None:
        """Note a value that is not allowed.

        Parameters
        ----------
        file, place : str
            See `Problem`.
        found : object
            The value, quoted in the message; `MISSING` if there is none.
        allowed : str
            What would have been right, such as ``0 to 1``.

        Notes
        -----
        That something is missing is left out where its place has a problem already: it is the same one.
        """
        if found is MISSING and (file, place) in self._said:
            return
        self.say(file, place, f"found {show(found)}, allowed {allowed}")

    def say(self, file: str, place: str, text: str) -> None:
        """Note a problem in words of its own; the same one twice is noted once."""
        problem = Problem(file, place, " ".join(text.split()))
        if problem not in self._said:
            self._found.append(problem)
            self._said |= {problem, (file, place)}

    def remark(self, file: str, place: str, text: str) -> None:
        """Note what does not stop the work but should be looked at; the same twice is noted once.

        Parameters
        ----------
        file : str
            Shown by its name alone, since remarks stay with a site wherever it goes.
        place, text : str
            See `Problem`.
        """
        remark = Problem(PurePath(file).name, place, " ".join(text.split()))
        if remark not in self._remarks:
            self._remarks.append(remark)

    def reword(self, first: int, change: Callable[[Problem], Problem]) -> None:
        """Change the problems from number `first` on, such as to name the file that a value came from."""
        later = self._found[first:]
        del self._found[first:]
        self._said -= set(later)
        for problem in later:
            self.say(*change(problem))

    def absorb(self, error: InputError, file: str | None = None, place: str = "") -> None:
        """Take over the problems of an error.

        Parameters
        ----------
        error : InputError
            The error to take apart.
        file : str, optional
            Named instead of what the error names.
        place : str
            Put before each place: ``crews[1]`` makes ``crews[1].pace`` of ``pace``.
        """
        for detail in error.details:
            self.say(detail.file if file is None else file, join_places(place, detail.place), detail.text)
        self._remarks.extend(one for one in error.remarks if one not in self._remarks)

    def error(self) -> InputError:
        """Give all problems as an error, and the remarks with it."""
        return InputError(*self._found, remarks=self._remarks)

    def raise_if_any(self) -> None:
        """Raise `InputError` with all problems, if there are any."""
        if self._found:
            raise self.error()


def join_places(outer: str, inner: str) -> str:
    """Put a place behind the one that it lies in."""
    if not outer or not inner or inner.startswith("["):
        return outer + inner
    return f"{outer}.{inner}"


def show(value: object) -> str:
    """Quote a value on one line, cut short where it is long."""
    if hasattr(value, "item") and getattr(value, "ndim", None) == 0:  # numpy's scalars
        value = value.item()
    try:
        if isinstance(value, Said):
            text = str(value)
        else:
            text = f'"{value}"' if isinstance(value, str) else repr(value)
    except (RecursionError, ValueError):  # nested without end, or an integer too long to print
        text = f"a {type(value).__name__} too large to print"
    text = " ".join(text.split())
    return text if len(text) <= _LONGEST else text[: _LONGEST - 3] + "..."


def one_of(names: Iterable[str]) -> str:
    """Word a choice: ``one of "a", "b"``."""
    return "one of " + ", ".join(f'"{name}"' for name in names)
