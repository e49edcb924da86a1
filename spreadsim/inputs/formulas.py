"""Texts that a spreadsheet would take for formulas: marked when tables are written, given back when they are read."""

_BEGINNINGS = ("=", "+", "-", "@")


def marked(text: str) -> str:
    """Put a mark before a text that a spreadsheet would take for a formula, also after blanks."""
    return f"'{text}" if text.lstrip()[:1] in _BEGINNINGS else text


def unmarked(text: str) -> str:
    """Take the mark away again."""
    return text[1:] if text[:1] == "'" and text[1:].lstrip()[:1] in _BEGINNINGS else text
