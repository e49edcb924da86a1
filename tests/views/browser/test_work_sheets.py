"""The sheets of a work list as they are printed: one page a session."""

import dataclasses
from pathlib import Path

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser
from pypdf import PdfReader

from spreadsim.planning.worklist import Notes, Session, WorkList, sessions_of, work_list
from spreadsim.planning.worklist.place import HOST
from spreadsim.planning.worklist.sessions import MOST_PLACES, MOST_SPOTS, Job
from spreadsim.views.work_sheets import work_sheets

from .conftest import experiment, open_page


def test_the_sheets_print_one_page_a_session(browser: Browser, tmp_path: Path) -> None:
    own = experiment()
    name = next(strategy.name for strategy in own.strategies if len(strategy.tasks) > 1)
    work = work_list(own, name, seasons=4, workers=1)
    sessions = sessions_of(work)
    sessions.append(Session(len(sessions) + 1, 0, 0, _full(work, sessions)))
    path = tmp_path / "sheets.html"
    path.write_text(work_sheets(work, sessions, Notes(work)), encoding="utf-8")
    shown = open_page(browser, path)
    for paper in ("A4", "Letter"):
        shown.page.pdf(path=tmp_path / f"{paper}.pdf", format=paper, prefer_css_page_size=True)
        pages = [" ".join(page.extract_text().split()) for page in PdfReader(tmp_path / f"{paper}.pdf").pages]
        heads = [text for text in pages if "Sheet " in text]
        assert len(heads) == len(sessions) and pages[-len(sessions) :] == heads
        for session, text in zip(sessions, heads, strict=True):
            assert f"Sheet {session.number}:" in text and "In an emergency" in text and "Cautions" in text
            assert all(job.place.label in text for job in session.jobs)
    serious = [one for one in Axe().run(shown.page).response["violations"] if one["impact"] in ("serious", "critical")]
    assert serious == [] and shown.complaints == [] and len(shown.requests) == 1
    shown.page.context.close()


def _full(work: WorkList, sessions: list[Session]) -> list[Job]:
    """As many hosts as a sheet may hold, in as many spots, with the treatments that want most to be said."""
    place = next(job.place for session in sessions for job in session.jobs if job.place.kind == HOST)
    site, jobs = work.experiment.site, []
    for k in range(MOST_PLACES):
        j, spot = k, k * MOST_SPOTS // MOST_PLACES + 1
        x, y = float(site.hosts.x[j]), float(site.hosts.y[j])
        treatments = ("cut-and-treat", "foliar-spray" if k % 2 else "clear-ring")
        jobs.append(Job(dataclasses.replace(place, label=f"H{j}", x=x, y=y, treatments=treatments), 0.5, 1.0, spot))
    return jobs
