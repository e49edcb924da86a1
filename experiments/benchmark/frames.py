"""Frames a second of a class page while it plays, in Chromium: `python frames.py lesson.html`.

Needs playwright and a Chromium on the path. Make the page of a site of 100,000 cells for the target (30 a second).
"""

import argparse
import shutil
from pathlib import Path

from playwright.sync_api import Page, sync_playwright

SECONDS = 4
# counts frames until the time is over or the page has stopped by itself: frames a second, the longest wait in ms
COUNT = """seconds => new Promise(done => {
    const start = performance.now();
    let frames = 0, longest = 0, last = start;
    const next = now => {
        frames += 1;
        longest = Math.max(longest, now - last);
        last = now;
        const over = now - start > 1000 * seconds || document.getElementById('play').textContent !== 'Stop';
        over ? done([1000 * frames / (now - start), longest]) : requestAnimationFrame(next);
    };
    requestAnimationFrame(next);
})"""


def measure(page: Page, tab: int, speed: str) -> tuple[float, float]:
    """Play one step of the path from its start."""
    page.click(f"#tabs li:nth-child({tab}) button")
    page.select_option("#speed", speed)
    page.click("#play")
    frames, longest = page.evaluate(COUNT, SECONDS)
    if page.inner_text("#play") == "Stop":
        page.click("#play")
    return frames, longest


def main() -> None:
    """Measure every step at the usual and the fast speed."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("page", type=Path)
    chosen = parser.parse_args()
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1280, "height": 720})
        page.goto(chosen.page.resolve().as_uri())
        page.wait_for_selector("#tabs button")
        for tab in range(1, page.locator("#tabs li").count() + 1):
            for speed in ("3", "9"):
                frames, longest = measure(page, tab, speed)
                name = page.inner_text(f"#tabs li:nth-child({tab})")
                print(f"{name:<16} {speed} seasons/s  {frames:5.1f} frames/s  longest {longest:5.1f} ms")
        browser.close()


if __name__ == "__main__":
    main()
