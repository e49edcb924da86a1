"""Reading a TOML file: whatever goes wrong is an `InputError` that says where."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from spreadsim.errors import InputError, Problem

_DEEPEST = 20  # tables within tables; nothing of ours needs more than five
_LARGEST_FILE = 50_000_000  # bytes
# A key of thousands of parts takes the parser hours, since it goes down to each of them from the top.
_MOST_PARTS = 100
_LONG_KEY = re.compile(rf"(?<![\w\-\"'])(?:[\w\-\"']++[ \t]*+\.[ \t]*+){{{_MOST_PARTS}}}", re.ASCII)


def read_text(path: str | Path, largest: int = _LARGEST_FILE) -> str:
    """Read a text file in UTF-8, with or without a byte-order mark, of at most `largest` bytes.

    Raises
    ------
    InputError
        If there is no such file, it is a folder, cannot be read, is not UTF-8 or is absurdly large.
    """
    data = read_bytes(path, largest)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        text = f"found bytes that are not UTF-8 text at byte {error.start}, allowed UTF-8 text"
        raise InputError(Problem(str(path), f"line {line}", text)) from error


def read_bytes(path: str | Path, largest: int = _LARGEST_FILE) -> bytes:
    """Read a file of at most `largest` bytes.

    Raises
    ------
    InputError
        If there is no such file, it is a folder, cannot be read or is absurdly large.
    """
    path = Path(path)
    try:
        if path.is_dir():
            raise InputError(Problem(str(path), "", "found a folder, allowed a file"))
        if path.exists() and not path.is_file():  # a pipe or a device would never end
            raise InputError(Problem(str(path), "", "found what is no file, allowed a file"))
        if path.stat().st_size > largest:
            raise InputError(
                Problem(str(path), "", f"found a file of more than {largest // 1_000_000} MB, allowed less")
            )
        return path.read_bytes()
    except FileNotFoundError as error:
        raise InputError(Problem(str(path), "", "found no such file, allowed a file that exists")) from error
    except (OSError, ValueError) as error:  # ValueError: a zero byte in the name
        if isinstance(error, InputError):
            raise
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(Problem(str(path), "", f"cannot be read: {reason}")) from error


def read_toml(path: str | Path) -> dict[str, Any]:
    """Read a TOML file into plain dictionaries.

    Raises
    ------
    InputError
        As `read_text`; also for a fault of syntax (with its line) or tables nested too deeply.
    """
    text = read_text(path)
    endless = _LONG_KEY.search(text)
    if endless is not None:
        line = text.count("\n", 0, endless.start()) + 1
        raise InputError(
            Problem(str(path), f"line {line}", f"found a key of {_MOST_PARTS} parts or more, allowed fewer")
        )
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(Problem(str(path), "", f"not valid TOML: {error}")) from error
    except RecursionError as error:
        raise InputError(Problem(str(path), "", _too_deep())) from error
    except ValueError as error:  # an impossible date, or an integer of thousands of digits
        raise InputError(Problem(str(path), "", f"not valid TOML: {error}")) from error
    if _deeper_than(data, _DEEPEST):
        raise InputError(Problem(str(path), "", _too_deep()))
    return data


def _too_deep() -> str:
    return f"found tables or lists nested too deeply, allowed at most {_DEEPEST} levels"


def _deeper_than(data: object, levels: int) -> bool:
    inner = data.values() if isinstance(data, dict) else data if isinstance(data, list) else ()
    return levels < 0 or any(_deeper_than(item, levels - 1) for item in inner)
