"""The brief in Chromium: with the network off, on a screen and on paper."""

import io
from pathlib import Path
from unicodedata import normalize

import pytest
from playwright.sync_api import Browser
from pypdf import PdfReader

from spreadsim import cli

from .conftest import CUT, SITE, open_page


@pytest.fixture(scope="module")
def brief(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The brief of the small site, whose names try to be markup."""
    page = tmp_path_factory.mktemp("brief") / "brief.html"
    assert cli.main(["brief", str(built), "--workers", "1", "--out", str(page)]) == 0
    return page


def test_it_is_read_offline_and_printed_on_two_pages(browser: Browser, brief: Path) -> None:
    shown = open_page(browser, brief)
    page = shown.page
    assert SITE in page.inner_text("#one .site") and page.inner_text("h1") == "Invented <b>test</b>"
    assert CUT in page.inner_text("#one table") and page.locator("script").count() == 0
    broken = "() => [...document.images].filter(one => !one.complete || !one.naturalWidth).length"
    assert page.locator("img").count() >= 5 and page.evaluate(broken) == 0
    assert page.evaluate("() => document.documentElement.scrollWidth <= innerWidth"), "nothing is cut off at the side"
    for paper in ("A4", "Letter"):
        pages = [normalize("NFKC", one.extract_text()) for one in PdfReader(io.BytesIO(page.pdf(format=paper))).pages]
        assert "What to do first" in pages[0] and "The options" in pages[0] and "The question" not in pages[0]
        assert pages[1].lstrip().startswith("The question") and "What would change the answer" in pages[1]
        assert pages[2].lstrip().startswith("A. The site"), f"the main part takes more than two pages of {paper}"
        assert "How to repeat it" in pages[-1]
    assert shown.complaints == [] and set(shown.requests) == {shown.requests[0]}
    assert shown.requests[0].startswith("file:")
    page.context.close()


def test_the_policy_is_in_force(browser: Browser, brief: Path) -> None:
    shown = open_page(browser, brief)
    code = "const one = document.createElement('script'); one.textContent = 'window.ran = 1'; document.body.append(one)"
    shown.page.evaluate(f"() => {{{code}}}")
    assert shown.page.evaluate("window.ran") is None
    assert len(shown.complaints) == 1 and "Content Security Policy" in shown.complaints[0]
    shown.page.context.close()
