"""The page of a course in a real browser: it draws, asks for nothing, fits a phone, and shows the file's figures."""

import json
import os
import re
import shutil
from datetime import date

import pytest

from imu_rom.exchange.progress import write_progress
from imu_rom.report.course_page import course_page, course_page_blocks

CHROMIUM = shutil.which("chromium")
# CI installs it, and where it fails to, these tests fail too
pytestmark = pytest.mark.skipif(
    CHROMIUM is None and os.environ.get("CI") != "true", reason="needs chromium, which is not installed here"
)


@pytest.fixture(scope="module")
def file(course_document, tmp_path_factory):
    path = tmp_path_factory.mktemp("course") / "course.html"
    path.write_bytes(b"".join(course_page_blocks(course_page(course_document))))
    return path


@pytest.fixture(scope="module")
def sore_file(course_until, tmp_path_factory):
    """The page on the day of the flare."""
    path = tmp_path_factory.mktemp("sore") / "course.html"
    path.write_bytes(b"".join(course_page_blocks(course_page(course_until(date(2027, 1, 2))))))
    return path


@pytest.fixture
def open_page(see_page, file):
    return lambda width, height=900, file=file, anew=False: see_page(file, width, height, anew)


OUTSIDE = """() => {
  const edge = document.getElementById('course').getBoundingClientRect();
  return Array.from(document.querySelectorAll('#course svg.main-svg text')).filter(each => {
    const box = each.getBoundingClientRect();
    return each.getClientRects().length && (box.left < edge.left - 1 || box.right > edge.right + 1);
  }).map(each => each.textContent);
}"""


@pytest.mark.parametrize("width", [360, 768, 1440])
def test_it_draws_and_fits_at_every_width(open_page, width):
    page = open_page(width)
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width
    drawn = page.evaluate("() => document.getElementById('course').data.length")
    assert drawn >= 10
    # no word of the figure runs out of it
    assert page.locator("#course svg.main-svg text").count() > 20
    assert page.evaluate(OUTSIDE) == []


def test_the_first_screen_of_a_laptop_holds_stage_criteria_and_case(open_page):
    page = open_page(1366, 700)
    bottom = page.locator(".beside").bounding_box()
    assert bottom["y"] + bottom["height"] <= 700


def test_what_is_urgent_is_on_the_first_screen_at_its_top(open_page, sore_file):
    page = open_page(1366, 700, file=sore_file)
    urgent, stands = page.locator(".urgent").bounding_box(), page.locator(".stands").bounding_box()
    assert urgent["y"] + urgent["height"] <= stands["y"] < 400
    assert "stop these exercises" in page.locator(".urgent").inner_text()


def test_the_figures_of_tables_and_drawing_are_those_of_the_file(open_page, course_document):
    page = open_page(1440)
    course = json.loads(write_progress(course_document, ()))["course"]
    rows = page.locator("#criteria tbody tr").all()
    assert len(rows) == len(course["criteria"])
    for row, criterion in zip(rows, course["criteria"], strict=True):
        assert row.locator("th").inner_text().endswith(criterion["answer"])
    page.evaluate("() => document.querySelectorAll('details').forEach(each => { each.open = true; })")
    table = page.locator("table", has=page.locator("caption", has_text="Time past the compressive angle"))
    cells = [row.locator("th, td").all_inner_texts() for row in table.locator("tbody tr").all()]
    found = [each["past_threshold"]["sum_s"] for week in course["weeks"] for each in week["measured"]]
    assert [row[3] for row in cells] == [
        f"{each['value']:.1f} ({each['low']:.1f} to {each['high']:.1f})" for each in found
    ]
    drawn = page.evaluate(
        "() => document.getElementById('course').data.filter(each => each.yaxis === 'y2' && each.type === 'bar')"
        ".flatMap(each => Array.from(each.y))"
    )
    assert sorted(drawn) == sorted(each["value"] for each in found)


def test_each_button_shows_its_stretch_by_keyboard_and_pointer(open_page):
    page = open_page(768, anew=True)
    buttons = page.locator("button").all()
    assert len(buttons) == 7
    for number, button in enumerate(buttons):
        if number % 2:
            button.click()
        else:
            button.focus()
            page.keyboard.press("Enter")
        assert button.get_attribute("aria-pressed") == "true"
        assert page.locator("button[aria-pressed=true]").count() == 1
        shown = page.evaluate(
            "() => document.getElementById('course').layout.xaxis.range.map(each => each.slice(0, 10))"
        )
        assert shown == [button.get_attribute(each)[:10] for each in ("data-start", "data-stop")]


def test_every_control_is_large_enough_and_has_the_keyboard(open_page):
    page = open_page(360)
    for control in page.locator("button, summary").all():
        assert control.bounding_box()["height"] >= 43.9
    reached = set()
    for _ in range(16):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("() => document.activeElement.tagName"))
    assert {"BUTTON", "SUMMARY", "DIV"} <= reached


def test_pointing_at_a_mark_says_it_in_words(open_page):
    page = open_page(1440)
    page.locator("#course").scroll_into_view_if_needed()
    box = page.locator("#course .scatterlayer path.point").last.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.wait_for_selector("#course .hoverlayer .hovertext")
    assert re.search(r"end range -?\d", page.locator("#course .hoverlayer .hovertext").first.text_content())


def test_axe_finds_nothing(open_page, resized, axe_finds_nothing, sore_file):
    page = open_page(1366, 700, file=sore_file)
    page.evaluate("() => document.querySelectorAll('details').forEach(each => { each.open = true; })")
    for width in (1440, 360):
        resized(page, width)
        axe_finds_nothing(page)
