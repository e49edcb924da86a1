"""Debian's Chromium without a network, and a class page of a small invented site with a name that tries to be markup."""

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from playwright.sync_api import Browser, Page, sync_playwright

import spreadsim
from spreadsim import Crew, Experiment, FollowUp, Site, Strategy, Task, cli, load_vine
from spreadsim.views.class_page import choose_lucks

REQUIRED = "SPREADSIM_BROWSER"  # set where a missing browser is a fault, as in .ci/run
SITE = "<script>alert('site')</script> & wood"
CUT = "cut <img src=x onerror=alert(1)>"
CLEAR = "clear first"
YEARS = 6


def experiment(*names: str) -> Experiment:
    """Half a hectare with two mats and fruiting trees; the strategies named, all of them if none is."""
    rng = np.random.default_rng(7)
    mat = np.zeros((34, 50))
    mat[4:14, 5:16] = 0.9
    mat[22:30, 28:38] = 0.9
    x, y = rng.uniform(0, 100, 120), rng.uniform(0, 68, 120)
    inside = mat[33 - (y // 2).astype(int), (x // 2).astype(int)] > 0
    hosts = {
        "x": x,
        "y": y,
        "state": np.where(inside, np.resize(["fruiting", "climbing"], 120), "bare"),
        "kind": ["tree"] * 120,
        "top_light": rng.uniform(0.5, 1, 120),
        "known": rng.random(120) < 0.8,
    }
    plantable = np.ones(mat.shape)
    plantable[:, 24] = 0.0
    ground = Site.from_arrays(
        2.0, mat=mat, canopy=np.full(mat.shape, 0.4), plantable=plantable, hosts=hosts, title=SITE
    )
    vine = load_vine("wintercreeper").replace({"seed.patches_founded": 2.5, "seed.years_seed_to_patch": 2.0})
    back = FollowUp(4, 2)
    cut, pull = Task("cut", follow_up=back), Task("pull", follow_up=back)
    later = {"years": (4, None)}
    strategies = [
        Strategy(CUT, tasks=[cut, Task("pull", follow_up=back, **later)]),
        Strategy(CLEAR, tasks=[Task("cut", follow_up=back, **later), pull]),
        Strategy("both", tasks=[cut, pull]),
        Strategy("both, with care", tasks=[Task("scout", share=0.2), Task("cut-and-treat", follow_up=back), cut, pull]),
    ]
    crews = (Crew("staff", 12, may=("all",)),)
    chosen = [strategy for strategy in strategies if not names or strategy.name in names]
    return Experiment(
        "Invented <b>test</b>", ground, vine, crews, chosen, years=YEARS, replicates=6, seed=3, notice="Invented."
    )


@dataclass
class Shown:
    """A page that is open, what it asked for over the network, and what it complained of."""

    page: Page
    requests: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)


@pytest.fixture(scope="session")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with results, lesson.html and handout.html."""
    folder = tmp_path_factory.mktemp("lesson")
    spreadsim.compare(experiment(), folder=folder, workers=1)
    assert cli.main(["lesson", str(folder), "--handout", str(folder / "handout.html"), "--lucks", "3"]) == 0
    return folder


@pytest.fixture(scope="session")
def outcomes(built: Path) -> xr.Dataset:
    """Outcomes of the replicates that the page shows, in its order."""
    data = spreadsim.open_outcomes(built / "outcomes.nc")
    return data.sel(replicate=choose_lucks(data, 3))


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    found = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if found is None:
        wanted = "no Chromium here; on Debian: apt-get install chromium"
        pytest.fail(wanted) if os.environ.get(REQUIRED) else pytest.skip(wanted)
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=found, args=["--no-sandbox"])
        yield browser
        browser.close()


def open_page(browser: Browser, path: Path, **context: Any) -> Shown:
    """Open a file without a network, and listen to all that it does."""
    settings = {"viewport": {"width": 1280, "height": 720}, "offline": True, **context}
    shown = Shown(browser.new_context(**settings).new_page())
    shown.page.set_default_timeout(10_000)
    shown.page.on("request", lambda request: shown.requests.append(request.url))
    shown.page.on("console", lambda message: shown.complaints.append(message.text))
    shown.page.on("pageerror", lambda error: shown.complaints.append(str(error)))
    shown.page.on("dialog", lambda dialog: shown.complaints.append(dialog.message))
    shown.page.goto(path.as_uri())
    return shown


@pytest.fixture
def shown(browser: Browser, built: Path) -> Iterator[Shown]:
    """The class page on a projector; whatever a test does, nothing leaves the page and nothing is complained of."""
    shown = open_page(browser, built / "lesson.html")
    shown.page.wait_for_selector("#tabs button")
    yield shown
    assert shown.requests[0].startswith("file:") and set(shown.requests) == {shown.requests[0]}
    assert shown.complaints == []
    shown.page.context.close()
