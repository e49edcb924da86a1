"""The class page in Chromium: what a class sees, by mouse and by keyboard, with the network off."""

import base64
import dataclasses
import re
import unicodedata
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import xarray as xr
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, expect
from pypdf import PdfReader

from spreadsim import Site, cli, compare

from .conftest import CLEAR, CUT, SITE, YEARS, Shown, experiment, open_page

DEMO = Path(__file__).parents[3] / "experiments" / "cut-or-clear"
MAT = ((181, 201, 164), (126, 163, 111), (63, 111, 74))
FRUIT = (142, 15, 107)


def tab(page: Page, number: int) -> None:
    page.click(f"#tabs li:nth-child({number}) button")


def to_step(page: Page, step: int) -> None:
    page.evaluate(
        "step => {const time = document.getElementById('time'); time.value = step; time.dispatchEvent(new Event('input'))}",
        step,
    )


def picture(page: Page, side: str) -> np.ndarray:
    """Pixels of a map (y, x, 3)."""
    code = """side => {const canvas = document.querySelector(`#${side} canvas`);
        const copy = Object.assign(document.createElement('canvas'), {width: canvas.width, height: canvas.height});
        const context = copy.getContext('2d', {willReadFrequently: true});
        context.drawImage(canvas, 0, 0);
        const data = context.getImageData(0, 0, canvas.width, canvas.height).data;
        return [canvas.height, canvas.width, btoa(Array.from(data, n => String.fromCharCode(n)).join(''))]}"""
    height, width, text = page.evaluate(code, side)
    return np.frombuffer(base64.b64decode(text), "u1").reshape(height, width, 4)[..., :3]


def count(pixels: np.ndarray, *colours: tuple[int, int, int]) -> int:
    return int(sum(np.all(pixels == colour, axis=-1).sum() for colour in colours))


def told(page: Page, side: str) -> list[int]:
    """Mat, climbed and fruiting as written below a map."""
    return [
        int(number.replace(",", "")) for number in re.findall(r"(?<![a-z])\d[\d,]*", page.inner_text(f"#{side} .now"))
    ]


def test_it_opens_with_the_question_and_six_steps(shown: Shown) -> None:
    page = shown.page
    assert "100 hours" in page.inner_text("#question")
    assert page.locator("#tabs button").all_inner_texts() == [
        "1 Vote", "2 Seed", "3 Only cut", "4 Only clear", "5 Look, go back", "6 At home", "Explore",
    ]  # fmt: skip
    assert page.inner_text("#when") == "At the start"
    minutes = 0
    for number in range(1, 7):
        tab(page, number)
        minutes += int(page.inner_text("#minutes").split()[0])
        assert page.locator("#ballot tr").count() == 3
        assert not page.is_visible("#average")
    assert minutes == 45


def test_text_of_inputs_is_shown_and_never_run(shown: Shown) -> None:
    page = shown.page
    assert page.inner_text("#title strong") == SITE
    assert page.title().endswith("Invented <b>test</b>")
    assert page.inner_text("#A .name") == CUT and page.inner_text("#B .name") == CLEAR
    assert page.locator("img").count() == 0 and page.locator("script").count() == 2
    policy = page.get_attribute("meta[http-equiv=Content-Security-Policy]", "content")
    assert "default-src 'none'" in policy and "unsafe" not in policy
    # the policy is in force: a script that is put in does not run, and says so
    page.evaluate(
        "() => {const one = document.createElement('script'); one.textContent = 'window.ran = 1'; document.body.append(one)}"
    )
    assert page.evaluate("window.ran") is None
    assert len(shown.complaints) == 1 and "Content Security Policy" in shown.complaints.pop()


def test_numbers_are_those_of_the_comparison(shown: Shown, outcomes: xr.Dataset) -> None:
    page = shown.page
    for luck in range(3):
        for year in (0, 3, YEARS):
            to_step(page, 4 * year)
            for side, name in (("A", CUT), ("B", CLEAR)):
                one = outcomes.sel(strategy=name, year=year).isel(replicate=luck)
                mat, climbed, _ = told(page, side)
                assert (mat, climbed) == (round(float(one["mat_area"])), int(one["climbed_hosts"]))
        label = page.locator("#chart-upper text.told").first.text_content()
        assert label == f"L {told(page, 'A')[0]:,}"
        page.click("#luck")
    assert page.inner_text("#which") == "1 of 3"


def test_both_sides_start_alike_and_marks_follow_the_numbers(shown: Shown) -> None:
    page = shown.page
    tab(page, 2)
    start = picture(page, "A")
    assert np.array_equal(start, picture(page, "B"))
    assert count(start, FRUIT) > 0
    to_step(page, 12)
    left, right = picture(page, "A"), picture(page, "B")
    assert told(page, "A")[2] > 0 and count(left, FRUIT) > 0
    assert (told(page, "B")[2] > 0) == (count(right, FRUIT) > 0)
    assert not np.array_equal(left, right)
    to_step(page, 0)
    assert np.array_equal(start, picture(page, "A")), "going back shows the start again"


def test_the_mat_covers_the_cells_that_it_should(shown: Shown, outcomes: xr.Dataset) -> None:
    page = shown.page
    start = picture(page, "A")  # marks hide some cells
    rows, columns = outcomes["occupancy"].sizes["y"], outcomes["occupancy"].sizes["x"]
    mat = outcomes["occupancy"].isel(strategy=0, year=0).values > 0
    down = (np.arange(start.shape[0]) * rows // start.shape[0])[:, None]
    across = (np.arange(start.shape[1]) * columns // start.shape[1])[None, :]
    green = np.any([np.all(start == colour, axis=-1) for colour in MAT], axis=0)
    assert green[mat[down, across]].mean() > 0.5
    assert green[~mat[down, across]].mean() < 0.005


def test_it_plays_and_stops_and_charts_follow(shown: Shown) -> None:
    page = shown.page
    tab(page, 3)
    page.select_option("#speed", "9")
    page.click("#play")
    # stopped by the page itself as it shows year 2: a click from here may come after the end when the machine is busy
    page.wait_for_function(
        "() => { if (!/^Year 2/.test(document.getElementById('when').textContent)) return false;"
        " document.getElementById('play').click(); return true; }"
    )
    expect(page.locator("#play")).to_have_text("Play")
    stopped = page.inner_text("#when")
    points = page.get_attribute("#chart-upper path[stroke-width='3.5']", "d").count("L")
    assert points == int(page.input_value("#time")) > 4
    page.wait_for_timeout(300)
    assert page.inner_text("#when") == stopped
    page.click("#play")
    expect(page.locator("#when")).to_have_text("Year 3, autumn", timeout=30_000)
    expect(page.locator("#play")).to_have_text("Play")
    assert page.inner_text("#when") == "Year 3, autumn", "a step plays the years in which its work is done"


def test_seed_flies_while_it_plays(shown: Shown) -> None:
    page = shown.page
    tab(page, 2)
    landed = [int(text.split()[1]) for text in _labels_by_step(page, "#chart-lower", 12)]
    first = next(step for step in range(1, 13) if landed[step] > landed[step - 1])
    to_step(page, first)
    with_seed = picture(page, "A")
    assert count(with_seed, (18, 54, 95)) > 0


def _labels_by_step(page: Page, chart: str, steps: int) -> list[str]:
    found = []
    for step in range(steps + 1):
        to_step(page, step)
        found.append(page.locator(f"{chart} text.told").first.text_content())
    return found


def test_votes_are_counted_twice_and_kept_for_the_last_step(shown: Shown) -> None:
    page = shown.page
    plus, minus = page.locator("#ballot button[aria-label^=Add]"), page.locator("#ballot button[aria-label^=Take]")
    for _ in range(3):
        plus.nth(0).click()
    plus.nth(1).click()
    minus.nth(0).click()
    minus.nth(2).click()  # never below nothing
    assert page.locator(".votes").all_inner_texts() == ["2", "1", "0"]
    page.click(".rounds button:nth-child(2)")
    assert page.locator(".votes").all_inner_texts() == ["0", "0", "0"]
    plus.nth(1).click()
    page.reload()
    page.wait_for_selector("#tabs button")
    assert page.locator(".votes").all_inner_texts() == ["2", "1", "0"]
    tab(page, 6)
    plus.nth(1).click()
    widths = page.locator("#ballot tr:nth-of-type(1) svg rect, #ballot tr:nth-of-type(2) svg rect")
    assert [float(one.get_attribute("width")) > 0 for one in widths.all()] == [True, False, False, True, True, True]
    assert page.get_attribute("#cautions", "open") is not None and "label" in page.inner_text("#cautions")


def test_what_a_run_of_luck_shows_is_said_on_request(shown: Shown) -> None:
    page = shown.page
    for number in range(1, 7):
        tab(page, number)
        before = page.inner_text("#watch")
        page.click("#reveal")
        first = page.inner_text("#watch")
        assert first != before and re.search(r"\d", first)
        assert page.get_attribute("#reveal", "aria-expanded") == "true"
        page.click("#luck")
        assert page.inner_text("#watch") == before, "another run of luck is watched before it is told"
        page.click("#reveal")
        assert page.inner_text("#watch") != first


def test_free_choice_has_averages(shown: Shown, outcomes: xr.Dataset) -> None:
    page = shown.page
    tab(page, 7)
    page.select_option("#left", "both")
    page.select_option("#right", "both, with care; nobody looks or goes back")
    page.select_option("#lower", "hours")
    assert page.inner_text("#B .name").endswith("nobody looks or goes back")
    thick = page.locator("#chart-lower path[stroke-width='3.5']").count()
    assert page.locator("#chart-lower path[stroke-width='1.4']").count() == 0
    page.check("#average")
    # the variant made for a step is in no comparison, and so has no average
    assert page.locator("#chart-lower path[stroke-width='1.4']").count() == 1
    assert page.locator("#chart-lower path[stroke-width='3.5']").count() == thick == 2
    page.check("#hidden")
    assert page.is_visible("#key-hidden")
    to_step(page, 4 * YEARS)
    hours = float(outcomes["hours"].sel(strategy="both").isel(replicate=0).sum())
    assert page.locator("#chart-lower text.told").first.text_content() == f"L {round(hours):,}"


def test_every_control_works_by_keyboard(shown: Shown) -> None:
    page, keys = shown.page, shown.page.keyboard
    keys.press("ArrowRight")
    assert page.inner_text("#when") == "Year 1, winter"
    keys.press("ArrowLeft")
    assert page.inner_text("#when") == "At the start"
    keys.press("Space")
    assert page.inner_text("#play") == "Stop"
    keys.press("Space")
    keys.press("Home")
    assert (page.inner_text("#play"), page.inner_text("#when")) == ("Play", "At the start")
    _visit_all(page)
    for place, code, done in (
        ("#tabs li:nth-child(4) button", "Enter", lambda: "mats" in page.inner_text("#question")),
        ("#ballot button[aria-label^=Add]", "Enter", lambda: page.inner_text(".votes >> nth=0") == "1"),
        ("#forth", "Space", lambda: page.inner_text("#when") == "Year 1, winter"),
        ("#time", "ArrowRight", lambda: page.inner_text("#when") == "Year 1, spring"),
        ("#back", "Enter", lambda: page.inner_text("#when") == "Year 1, winter"),
        ("#luck", "Enter", lambda: page.inner_text("#which") == "2 of 3"),
        ("#reveal", "Space", lambda: page.get_attribute("#reveal", "aria-expanded") == "true"),
        ("#play", "Enter", lambda: page.inner_text("#play") == "Stop"),
        ("#speed", "ArrowDown", lambda: page.input_value("#speed") == "9"),
        ("#cautions summary", "Enter", lambda: page.is_visible("#cautions li")),
        ("#tabs li:nth-child(7) button", "Space", lambda: page.is_visible("#choices")),
    ):
        page.focus(place)
        keys.press(code)
        assert done(), f"{place} does not answer to {code}"
    _visit_all(page)
    for place in ("#left", "#right", "#upper", "#lower"):
        before = page.input_value(place)
        page.focus(place)
        keys.press("ArrowDown")
        if page.input_value(place) == before:  # it was the last
            keys.press("ArrowUp")
        assert page.input_value(place) != before, place
    for place in ("#average", "#hidden"):
        page.focus(place)
        keys.press("Space")
        assert page.is_checked(place), place


def _visit_all(page: Page) -> None:
    """Tab through the page: every control that is seen is reached, and seen to be chosen."""
    controls = page.locator("button:visible, select:visible, input:visible, summary:visible")
    page.evaluate("() => {document.activeElement.blur(); getSelection().removeAllRanges(); window.scrollTo(0, 0)}")
    page.focus("#tabs li:first-child button")
    reached = set()
    mark = """() => {const one = document.activeElement, all = [...document.querySelectorAll('button, select, input, summary')];
        return [all.indexOf(one), getComputedStyle(one).outlineStyle, parseFloat(getComputedStyle(one).outlineWidth)]}"""
    page.keyboard.press("Shift+Tab")
    for _ in range(controls.count() + 2):
        page.keyboard.press("Tab")
        place, style, width = page.evaluate(mark)
        if place >= 0:
            reached.add(place)
            assert style == "solid" and width >= 3, "focus is not seen"
    assert len(reached) == controls.count()


@pytest.mark.parametrize("number", [1, 5, 6, 7])
def test_axe_finds_no_serious_fault(shown: Shown, number: int) -> None:
    tab(shown.page, number)
    found = Axe().run(shown.page)
    serious = [one for one in found.response["violations"] if one["impact"] in ("serious", "critical")]
    assert serious == [], found.generate_report()


def test_all_that_matters_is_seen_at_once_on_a_projector(shown: Shown) -> None:
    page = shown.page
    for number in range(1, 8):
        tab(page, number)
        for place in ("#question", "#A canvas", "#B canvas", "#chart-upper", "#chart-lower", "#bar", "#key"):
            box = page.locator(place).bounding_box()
            assert box["x"] >= 0 and box["x"] + box["width"] <= 1280, (number, place)
            assert box["y"] >= 0 and box["y"] + box["height"] <= 721, (number, place)
    sizes = {
        place: float(page.evaluate("place => getComputedStyle(document.querySelector(place)).fontSize", place)[:-2])
        for place in ("#question", ".now", "#when", "text.told")
    }
    assert sizes["#question"] >= 26 and sizes["#when"] >= 20 and sizes[".now"] >= 18 and sizes["text.told"] >= 15


def test_a_tall_site_leaves_the_time_bar_in_sight(browser: Browser, tmp_path: Path) -> None:
    own = experiment("both")
    tall = Site.from_arrays(2.0, mat=np.full((60, 12), 0.5), title="Tall")
    compare(dataclasses.replace(own, site=tall, years=2), folder=tmp_path, replicates=2, workers=1).close()
    assert cli.main(["lesson", str(tmp_path)]) == 0
    shown = open_page(browser, tmp_path / "lesson.html")
    page = shown.page
    page.wait_for_selector("#tabs button")
    box, bar = page.locator("#A canvas").bounding_box(), page.locator("#bar").bounding_box()
    assert box["y"] + box["height"] < bar["y"] and bar["y"] + bar["height"] <= 721
    assert 4 < box["height"] / box["width"] < 5.2
    assert "Left" in page.inner_text("#A") and shown.complaints == []
    page.context.close()


def test_a_page_that_was_cut_short_says_so(browser: Browser, built: Path, tmp_path: Path) -> None:
    text = (built / "lesson.html").read_text(encoding="utf-8")
    start = text.index('id="film">') + 2000
    (tmp_path / "cut.html").write_text(text[:start] + text[text.index("</script>", start) :], encoding="utf-8")
    shown = open_page(browser, tmp_path / "cut.html")
    expect(shown.page.locator("#question")).to_contain_text("can't be shown here")
    assert len(shown.complaints) == 1
    shown.page.context.close()


def test_it_fits_a_phone(browser: Browser, built: Path) -> None:
    settings: dict[str, Any] = {"viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True}
    shown = open_page(browser, built / "lesson.html", **settings)
    page = shown.page
    page.wait_for_selector("#tabs button")
    for number in (1, 5, 7):
        page.tap(f"#tabs li:nth-child({number}) button")
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        bar = page.locator("#bar").bounding_box()
        assert bar["y"] + bar["height"] <= 845, "time can be moved wherever the page is scrolled to"
    page.tap("#forth")
    assert page.inner_text("#when") == "Year 1, winter"
    small = page.evaluate(
        "() => [...document.querySelectorAll('button')].filter(one => one.offsetParent && one.offsetHeight < 32).length"
    )
    assert small == 0 and shown.complaints == []
    page.context.close()


def test_the_handout_of_the_demo_prints_on_one_page(browser: Browser, tmp_path: Path) -> None:
    shown = open_page(browser, DEMO / "handout.html")
    for paper in ("A4", "Letter"):
        shown.page.pdf(path=tmp_path / f"{paper}.pdf", format=paper)
        assert len(PdfReader(tmp_path / f"{paper}.pdf").pages) == 1
    shown.page.context.close()


def test_the_page_of_the_demo_plays(browser: Browser) -> None:
    shown = open_page(browser, DEMO / "lesson.html")
    page = shown.page
    page.wait_for_selector("#tabs button")
    for number in range(1, 7):
        tab(page, number)
        to_step(page, int(page.get_attribute("#time", "max")))
        for place in ("#A canvas", "#B canvas", "#bar", "#key"):
            box = page.locator(place).bounding_box()
            assert box["y"] + box["height"] <= 721, (number, place)
        page.click("#reveal")
        assert page.locator("#watch").bounding_box()["height"] < 72, "a sentence that moves the maps when it is shown"
    assert shown.complaints == [] and len(shown.requests) == 1
    page.context.close()


def test_the_handout_prints_on_one_page(browser: Browser, built: Path, tmp_path: Path) -> None:
    shown = open_page(browser, built / "handout.html")
    for paper in ("A4", "Letter"):
        shown.page.pdf(path=tmp_path / f"{paper}.pdf", format=paper)
        pages = PdfReader(tmp_path / f"{paper}.pdf").pages
        assert len(pages) == 1
        text = " ".join(unicodedata.normalize("NFKC", pages[0].extract_text()).split())
        assert "<script>alert('site')</script>" in text and "Identify first" in text and "never be burned" in text
    serious = [one for one in Axe().run(shown.page).response["violations"] if one["impact"] in ("serious", "critical")]
    assert serious == [] and shown.complaints == [] and len(shown.requests) == 1
    shown.page.context.close()
