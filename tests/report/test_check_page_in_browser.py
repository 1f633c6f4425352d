"""The page about a check in a real browser: it fits a phone and paper, and asks for nothing."""

import itertools
import os
import shutil

import pytest

from imu_rom.exchange.check import rounded_check
from imu_rom.report.check_page import check_page, check_page_bytes

CHROMIUM = shutil.which("chromium")
# CI installs it, and where it fails to, these tests fail too
pytestmark = pytest.mark.skipif(
    CHROMIUM is None and os.environ.get("CI") != "true", reason="needs chromium, which is not installed here"
)
A4_WIDTH_PX = 794


@pytest.fixture(scope="module", params=["made_sensor_check", "made_taping_check"])
def file(request, tmp_path_factory):
    path = tmp_path_factory.mktemp("check") / "check.html"
    path.write_bytes(check_page_bytes(check_page(rounded_check(request.getfixturevalue(request.param)))))
    return path


@pytest.fixture
def open_page(see_page, resized, file):
    def opened(width, media="screen"):
        page = see_page(file, 1000)
        page.emulate_media(media=media)
        resized(page, width)
        return page

    return opened


@pytest.mark.parametrize(("width", "media"), [(360, "screen"), (1440, "screen"), (A4_WIDTH_PX, "print")])
def test_it_fits(open_page, width, media):
    page = open_page(width, media)
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width
    picture = page.locator("svg.intervals:visible").bounding_box()
    assert picture["width"] <= width
    assert picture["height"] > 80


def test_the_pictures_words_and_marks_stay_within_it_and_apart(open_page):
    page = open_page(1000)
    picture = page.locator("svg.intervals:visible").bounding_box()
    rows = [each.bounding_box() for each in page.locator("svg.intervals:visible circle").all()]
    words = [each.bounding_box() for each in page.locator("svg.intervals:visible text").all()]
    assert len(rows) >= 5
    for box in rows + words:
        assert box["x"] >= picture["x"] - 0.5
        assert box["x"] + box["width"] <= picture["x"] + picture["width"] + 0.5
        assert box["y"] + box["height"] <= picture["y"] + picture["height"] + 0.5
    ticks = [box for box in words if box["y"] > max(each["y"] for each in rows) + 10]
    same_line = sorted((box for box in ticks if abs(box["y"] - ticks[0]["y"]) < 2), key=lambda box: box["x"])
    for before, after in itertools.pairwise(same_line):
        assert before["x"] + before["width"] < after["x"]


def test_the_picture_is_told_to_those_who_can_not_see_it(open_page):
    page = open_page(1000)
    words = page.get_by_role("img").get_attribute("aria-label")
    for each in page.locator("svg.intervals:visible text.row").all_text_contents():
        assert f"{each}: " in words
    headings = [each.inner_text() for each in page.locator("h1, h2, h3").all()]
    assert headings[0].startswith("Check of ")
    assert "What it can't show" in headings


def test_columns_of_figures_stand_at_the_right_up_to_the_last(open_page):
    page = open_page(1000)
    last = page.locator("td:last-child").all()
    sides = {each.evaluate("(each) => getComputedStyle(each).textAlign") for each in last}
    # tapings end in the name of the recording, all other tables in a figure
    assert sides == ({"left"} if page.locator("h1").inner_text() == "Check of re-taping" else {"right"})
    assert len(last) >= 5


def test_wide_tables_say_on_a_phone_that_they_scroll(open_page):
    page = open_page(360)
    for region in page.locator(".scroll").all():
        wider = region.evaluate("(each) => each.scrollWidth > each.clientWidth")
        assert region.locator(".sideways").is_visible() == wider


def test_wide_tables_are_reached_by_the_keyboard(open_page):
    page = open_page(360)
    for _ in page.locator(".scroll").all():
        page.keyboard.press("Tab")
        assert page.evaluate("() => document.activeElement.className") == "scroll"
