"""The researcher's pages, a cohort's summary and a comparison with a reference, in a real browser on phone and desk."""

import os
import shutil
import sys
from pathlib import Path

import pytest

from imu_rom_cli import main

sys.path.insert(0, str(Path(__file__).parent))
from made_tables import Made, make_cohort

CHROMIUM = shutil.which("chromium")
# CI installs it, and where it fails to, these tests fail too
pytestmark = pytest.mark.skipif(
    CHROMIUM is None and os.environ.get("CI") != "true", reason="needs chromium, which is not installed here"
)
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync", "--no-first-run"]
PLAN = Path(__file__).parents[2] / "sample_recordings" / "plans" / "P-0002.toml"


def summary(folder):
    # a label and an arm that are long, hold no place to break, and one would like to be a tag
    people = {"long" * 12: "a", "p2": "a", "p3": f"<b>{'long' * 12}</b>", "p4": f"<b>{'long' * 12}</b>"}
    made = [
        Made(who, f"{number}-{day}", 50.0 + 7 * number + 3 * day, f"2026-12-{day:02d}", end_range_deg=9.0 + number)
        for number, who in enumerate(people)
        for day in (1, 8)
    ]
    cohort = make_cohort(folder / "cohort", made, participants={who: {"arm": arm} for who, arm in people.items()})
    assert main(["cohort", "summary", str(cohort), "--out", str(folder / "out")]) == 0
    return folder / "out" / "summary.html"


def comparison(folder):
    words = ["simulate", "--plan", str(PLAN), "--seed", "4", "--rate", "50", "--with-reference"]
    assert main([*words, "--out", str(folder / "dataset")]) == 0
    words = ["compare-reference", str(folder / "dataset"), "--plan", str(PLAN), "--reference", "true_angle"]
    assert main([*words, "--out", str(folder / "out")]) == 0
    return folder / "out" / "reference.html"


@pytest.fixture(scope="module", params=[summary, comparison])
def seen(request, tmp_path_factory):
    """A page that is open, and what it said and asked for since."""
    from playwright.sync_api import sync_playwright

    file = request.param(tmp_path_factory.mktemp("pages"))
    said, asked = [], []
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        page = chromium.new_page()
        page.set_default_timeout(90_000)
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.on("request", lambda request: asked.append(request.url))
        page.goto(file.as_uri())
        yield page, said, asked, file
        chromium.close()


@pytest.mark.parametrize("width", [360, 768, 1440])
def test_nothing_is_wider_than_the_screen(seen, width):
    page, *_ = seen
    page.set_viewport_size({"width": width, "height": 900})
    page.wait_for_function("width => window.innerWidth === width", arg=width)
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width
    for region in page.locator(".scroll").all():
        wider = region.evaluate("(each) => each.scrollWidth > each.clientWidth")
        assert region.locator(".sideways").is_visible() == wider
    for picture in page.locator("svg.intervals:visible").all():
        box = picture.bounding_box()
        assert 0.9 * min(width, 700) - 40 <= box["width"] <= width
        for words in picture.locator("text").all():
            each = words.bounding_box()
            # all of it is within the picture, and large enough to be read
            assert box["x"] - 0.5 <= each["x"] <= each["x"] + each["width"] <= box["x"] + box["width"] + 0.5
            assert each["height"] >= 12
    if folder := os.environ.get("IMU_ROM_SCREENSHOTS"):
        page.screenshot(path=Path(folder) / f"{seen[3].stem}-{width}.png", full_page=True)


def test_axe_finds_nothing(seen):
    from axe_playwright_python.sync_playwright import Axe

    page, *_ = seen
    for width in (360, 1440):
        page.set_viewport_size({"width": width, "height": 900})
        page.wait_for_function("width => window.innerWidth === width", arg=width)
        found = Axe().run(page).response
        assert len(found["passes"]) > 10
        assert [(each["id"], [node["html"][:150] for node in each["nodes"]]) for each in found["violations"]] == []


def test_pictures_are_told_in_words_and_nothing_is_asked_of_others(seen):
    page, said, asked, file = seen
    pictures = page.locator("svg.intervals").all()
    assert len(pictures) >= 2
    for picture in pictures:
        words = picture.get_attribute("aria-label")
        # a row's own words may be cut, the picture's never are
        assert all(row.rstrip("\u2026") in words for row in picture.locator("text.row").all_text_contents())
    assert page.locator("b:has-text('longlong')").count() == 0
    assert said == []
    assert asked == [file.as_uri()]
