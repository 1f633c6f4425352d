"""The sample course as its page shows it, and pages in a browser."""

import shutil
from functools import cache
from pathlib import Path

import pytest

from imu_rom.course.folder import read_course
from imu_rom.dose.weeks import follow_up
from imu_rom.exchange.progress import progress_document
from imu_rom.settings import Settings

SAMPLE = Path(__file__).parents[2] / "sample_recordings" / "course"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync", "--no-first-run"]

DRAWN = """() => Array.from(document.querySelectorAll('.angle, .course'))
    .every(each => each.dataset.drawn === 'true')"""
# a figure that fills its place is drawn anew a moment after the window has changed
FITTED = """width => window.innerWidth === width && Array.from(document.querySelectorAll('.js-plotly-plot'))
    .every(each => Math.abs(each._fullLayout.width - each.clientWidth) <= 1)"""
LONGEST_MS = 90_000
PUT_BACK = """() => {
  document.querySelectorAll('details').forEach(each => { each.open = false; });
  document.activeElement.blur();
  window.scrollTo(0, 0);
}"""


@cache
def document_of(folder, until=None):
    """What a course folder answers; nothing is analysed or written."""
    settings = Settings()
    course = read_course(folder, settings, analyse=False)
    answer = follow_up(course.plans.plans, course.recorded, course.diary.entries, until or course.last_day, settings)
    return progress_document(answer, course.reading, settings)


def resized(page, width, height=900):
    """Give a window another size, and wait until its figures have it too."""
    page.set_viewport_size({"width": width, "height": height})
    page.wait_for_function(FITTED, arg=width)


def axe_finds_nothing(page, rules_passed=15):
    from axe_playwright_python.sync_playwright import Axe

    # nodes that pass are not named one by one, which took most of the time
    options = {"runOnly": {"type": "tag", "values": RULES}, "resultTypes": ["violations"]}
    found = Axe().run(page, options=options).response
    violations = [(each["id"], [node["html"][:120] for node in each["nodes"]]) for each in found["violations"]]
    assert violations == []
    assert len(found["passes"]) > rules_passed


@pytest.fixture(scope="session", name="resized")
def resized_fixture():
    return resized


@pytest.fixture(scope="session", name="axe_finds_nothing")
def axe_fixture():
    return axe_finds_nothing


@pytest.fixture(scope="session")
def course_document():
    return document_of(SAMPLE)


@pytest.fixture(scope="session")
def course_until():
    """The sample course up to some day."""
    return lambda day: document_of(SAMPLE, day)


@pytest.fixture(scope="module")
def browser():
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=FLAGS)
        yield chromium
        chromium.close()


@pytest.fixture(scope="module")
def load_page(browser):
    """Function that loads a file in a page of its own, which keeps what it says and asks for."""

    def load(file, width=1440, height=900):
        page = browser.new_page(viewport={"width": width, "height": height})
        page.set_default_timeout(LONGEST_MS)
        page.said, page.asked_for, page.file = [], [], file
        page.on("console", lambda message: page.said.append(message.text))
        page.on("pageerror", lambda error: page.said.append(str(error)))
        page.on("request", lambda request: page.asked_for.append(request.url))
        page.goto(file.as_uri())
        page.wait_for_function(DRAWN)
        page.wait_for_function(FITTED, arg=width)
        return page

    return load


@pytest.fixture(scope="module")
def kept_pages(load_page):
    """Pages that were loaded already, by file and width."""
    pages = {}
    yield pages
    for page in pages.values():
        page.close()


@pytest.fixture
def see_page(load_page, kept_pages):
    """Function that shows a file at a width: loaded once a module, and put back to how it was loaded; or anew.

    ``anew`` is for tests that leave the page other than it was.
    """
    shown, own = [], []

    def see(file, width=1440, height=900, anew=False):
        if anew:
            page = load_page(file, width, height)
            own.append(page)
        elif (file, width) not in kept_pages:
            page = kept_pages[file, width] = load_page(file, width, height)
        else:
            page = kept_pages[file, width]
            page.mouse.move(0, 0)
            page.evaluate(PUT_BACK)
            page.emulate_media(media="null")
            resized(page, width, height)
        shown.append(page)
        return page

    yield see
    for page in shown:
        # a saved file is a blob of the page's own
        assert [each for each in page.asked_for if not each.startswith("blob:")] == [page.file.as_uri()]
        assert page.url == page.file.as_uri()
        assert page.said == []
    for page in own:
        page.close()
