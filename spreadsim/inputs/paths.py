"""Paths named in a file: relative to it, and inside its folder."""

from __future__ import annotations

from pathlib import Path, PurePosixPath, PureWindowsPath

from spreadsim.inputs.checks import Check

_LONGEST = 255  # what file systems take of one name


def beside(folder: Path, name: object, check: Check, place: str) -> Path | None:
    """Give the path of a file that another one names.

    An experiment may come from somebody else; so it can name no file outside its own folder.

    Parameters
    ----------
    folder : Path
        Where the naming file lies.
    name : object
        What it says.
    check : Check
        Where to note a name that is no text, is absolute or leads out of the folder.
    place : str
        Where it says so.

    Returns
    -------
    Path or None
        None if the name is refused.
    """
    text = check.text(place, name, empty=False)
    if not text:
        return None
    for kind in (PurePosixPath(text), PureWindowsPath(text)):  # written on one system, read on another
        if kind.is_absolute() or kind.drive or kind.root or ".." in kind.parts or "\0" in text:
            check.add(place, text, 'a path relative to this file, without ".."')
            return None
    if len(text) > _LONGEST:
        check.add(place, text, f"a path of at most {_LONGEST} characters")
        return None
    return folder / text
