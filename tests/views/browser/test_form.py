"""The field form as it is printed."""

from pathlib import Path

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser
from pypdf import PdfReader

from spreadsim import cli

from .conftest import open_page


@pytest.mark.parametrize("options", [["--site", "An invented wood " * 4], ["--degrees", "--feet"]])
def test_the_form_prints_on_one_page(browser: Browser, tmp_path: Path, options: list[str]) -> None:
    assert cli.main(["form", str(tmp_path / "f.html"), *options]) == 0
    shown = open_page(browser, tmp_path / "f.html")
    for paper in ("A4", "Letter"):
        shown.page.pdf(path=tmp_path / f"{paper}.pdf", format=paper)
        assert len(PdfReader(tmp_path / f"{paper}.pdf").pages) == 1
    # a heading wider than its column would be broken within a word
    shown.page.add_style_tag(content="th { overflow-wrap: normal !important; }")
    wide = (
        "[...document.querySelectorAll('th')].filter(th => th.scrollWidth > th.clientWidth).map(th => th.textContent)"
    )
    assert shown.page.evaluate(wide) == []
    serious = [one for one in Axe().run(shown.page).response["violations"] if one["impact"] in ("serious", "critical")]
    assert serious == [] and shown.complaints == [] and len(shown.requests) == 1
    shown.page.context.close()
