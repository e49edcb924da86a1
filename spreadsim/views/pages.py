"""Pages of our own as one file: templates that escape what comes from inputs, and what their content policy allows."""

from base64 import b64encode
from hashlib import sha256
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined


def templates(folder: Path, **options: Any) -> Environment:
    """Give the templates of a folder: values are escaped, and one that is missing is an error."""
    return Environment(loader=FileSystemLoader(folder), undefined=StrictUndefined, autoescape=True, **options)


def hash_of(text: str) -> str:
    """Give the name by which a content policy allows a style or script (CSP level 3)."""
    return "sha256-" + b64encode(sha256(text.encode()).digest()).decode("ascii")


def picture(content: bytes, kind: str) -> str:
    """Give a picture, "png" or "svg+xml", as an address that holds it."""
    return f"data:image/{kind};base64,{b64encode(content).decode('ascii')}"
