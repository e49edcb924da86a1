"""The sheets of a work list as they are printed: one page a session."""

from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser
from pypdf import PdfReader

from spreadsim.planning.worklist import Notes, Session, sessions_of, work_list
from spreadsim.planning.worklist.sessions import MOST_PLACES, MOST_SPOTS
from spreadsim.views.work_sheets import work_sheets

from .conftest import experiment, open_page


def test_the_sheets_print_one_page_a_session(browser: Browser, tmp_path: Path) -> None:
    own = experiment()
    name = next(strategy.name for strategy in own.strategies if len(strategy.tasks) > 1)
    work = work_list(own, name, seasons=4, workers=1)
    sessions = sessions_of(work)
    jobs = sorted({job.place.label: job for s in sessions for job in s.jobs if job.spot}.values(), key=lambda j: j.spot)
    sessions.append(Session(len(sessions) + 1, 0, 0, _full(jobs)))
    path = tmp_path / "sheets.html"
    path.write_text(work_sheets(work, sessions, Notes(work)), encoding="utf-8")
    shown = open_page(browser, path)
    for paper in ("A4", "Letter"):
        shown.page.pdf(path=tmp_path / f"{paper}.pdf", format=paper)
        pages = [" ".join(page.extract_text().split()) for page in PdfReader(tmp_path / f"{paper}.pdf").pages]
        heads = [text for text in pages if "Sheet " in text]
        assert len(heads) == len(sessions) and pages[-len(sessions) :] == heads
        for session, text in zip(sessions, heads, strict=True):
            assert f"Sheet {session.number}:" in text and "In an emergency" in text and "Cautions" in text
            assert all(job.place.label in text for job in session.jobs)
    serious = [one for one in Axe().run(shown.page).response["violations"] if one["impact"] in ("serious", "critical")]
    assert serious == [] and shown.complaints == [] and len(shown.requests) == 1
    shown.page.context.close()


def _full(jobs: list) -> list:
    """As many places as a sheet may hold."""
    chosen: list = []
    for job in jobs:
        spots = {one.spot for one in (*chosen, job)}
        if len(chosen) < MOST_PLACES and len(spots) <= MOST_SPOTS:
            chosen.append(job)
    return chosen
