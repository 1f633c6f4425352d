"""The page in a real browser: it draws, asks for nothing, never hides a peak, and fits a phone."""

import json
import os
import re
import shutil
from dataclasses import replace

import pytest

from imu_rom.exchange.document import result_document
from imu_rom.exchange.result import write_result
from imu_rom.report.page import page_blocks, page_content

CHROMIUM = shutil.which("chromium")
# CI installs it, and where it fails to, these tests fail too
pytestmark = pytest.mark.skipif(
    CHROMIUM is None and os.environ.get("CI") != "true", reason="needs chromium, which is not installed here"
)


@pytest.fixture(scope="module")
def session(make_session):
    session = make_session(depths=((10.0,) * 15, (5.0,) * 15, (24.0,) * 14 + (-12.0,)))
    answer = session.exercises[0]
    angle = answer.trace.angle_deg.copy()
    angle[7600] = 41.25  # one sample between two sets, thinner than a pixel
    session = replace(session, exercises=(replace(answer, trace=replace(answer.trace, angle_deg=angle)),))
    return replace(session, plan=replace(session.plan, title="<script>document.title='taken'</script>"))


@pytest.fixture(scope="module")
def document(session):
    return result_document(session)


@pytest.fixture(scope="module")
def file(session, document, tmp_path_factory):
    path = tmp_path_factory.mktemp("page") / "report.html"
    path.write_bytes(b"".join(page_blocks(page_content(document, [each.trace for each in session.exercises]))))
    return path


@pytest.fixture
def open_page(see_page, file):
    return lambda width, file=file, anew=False: see_page(file, width, anew=anew)


HEIGHTS = "all => all.map(each => each.getBoundingClientRect().height)"


def shown(page):
    return page.evaluate("() => document.getElementById('angle-1').data[2].y.length"), page.evaluate(
        "() => Math.max(...document.getElementById('angle-1').data[2].y)"
    )


@pytest.mark.parametrize("width", [360, 768, 1440])
def test_it_draws_at_every_width_and_hides_no_peak(open_page, width):
    page = open_page(width)
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width
    points, highest = shown(page)
    assert highest == pytest.approx(41.25, abs=0.006)
    assert points <= 2 * width + 400
    assert page.locator("#angle-1 svg.main-svg").count() >= 1
    assert page.title() == "<script>document.title='taken'</script>"


def test_a_button_shows_a_set_more_finely(open_page):
    page = open_page(768)
    button = page.get_by_role("button", name="set 2", exact=True)
    button.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("button[aria-pressed=true]:text('set 2')")
    low, high = page.evaluate("() => document.getElementById('angle-1').layout.xaxis.range")
    times = page.evaluate("() => Array.from(document.getElementById('angle-1').data[2].x)")
    assert (low, high) == pytest.approx((157.0 - 3, 255.4 + 3), abs=2)
    assert min(times) >= low - 0.1
    assert max(times) <= high + 0.1
    assert shown(page)[1] < 41
    page.get_by_role("button", name="whole recording").click()
    page.wait_for_selector("button[aria-pressed=true]:text('whole recording')")
    assert shown(page)[1] == pytest.approx(41.25, abs=0.006)


def test_every_control_is_large_enough_and_has_the_keyboard(open_page):
    page = open_page(360)
    heights = page.locator("button, summary, select, input").evaluate_all(HEIGHTS)
    assert len(heights) > 20
    assert min(heights) >= 43.9
    reached = set()
    for _ in range(40):
        page.keyboard.press("Tab")
        reached.add(page.evaluate("() => document.activeElement.tagName"))
    assert {"BUTTON", "SUMMARY", "DIV", "SELECT", "INPUT"} <= reached


def test_the_figures_of_the_table_are_those_of_the_result(open_page, document):
    page = open_page(1440)
    sets = json.loads(write_result(document))["exercises"][0]["sets"]
    rows = page.locator("#sets-1 tbody tr").all()
    assert len(rows) == len(sets) == 3
    for row, done in zip(rows, sets, strict=True):
        cells = row.locator("th, td").all_inner_texts()
        assert cells[0] == str(done["set"])
        assert cells[2] == f"{done['complete']}/{done['prescribed_repetitions']}"
        assert cells[4] == f"{done['reached']}/{done['short']}/{done['undecided']}"
        ends = f"{done['past_threshold_low_s']:.1f} to {done['past_threshold_high_s']:.1f}"
        assert cells[8] == f"{done['past_threshold_s']:.1f} ({ends})"
        assert cells[-1].endswith(done["verdict"])
    page.locator("summary", has_text="Every repetition").click()
    assert page.locator("#repetitions-1 tbody tr").count() == 45


@pytest.fixture(params=["heeldrop", "floordrop", "held"])
def kind_of_page(request, make_session, tmp_path):
    """The page of each kind of exercise."""
    made = make_session(depths=((10.0, 24.0, -1.5),) * 2, exercise=request.getfixturevalue(request.param))
    path = tmp_path / "report.html"
    content = page_content(result_document(made), [each.trace for each in made.exercises])
    path.write_bytes(b"".join(page_blocks(content)))
    return path


WIDER = "() => Array.from(document.querySelectorAll('.scroll')).map(each => each.scrollWidth > each.clientWidth)"
UNFOLD = "() => document.querySelectorAll('details').forEach(each => { each.open = true; })"


def test_tables_fit_a_desk_and_say_on_a_phone_that_they_scroll(open_page, resized, kind_of_page):
    page = open_page(1280, file=kind_of_page)
    page.evaluate(UNFOLD)
    tables = page.locator("table").count()
    assert tables == 5
    assert page.evaluate(WIDER) == [False] * tables
    assert not any(each.is_visible() for each in page.locator(".sideways").all())
    resized(page, 375)
    # the short one of the moved angle may fit
    wider = [
        each for each in page.locator(".scroll").all() if each.evaluate("each => each.scrollWidth > each.clientWidth")
    ]
    assert len(wider) >= tables - 1
    for region in wider:
        cue = region.locator(".sideways").bounding_box()
        assert 0 < cue["x"] < cue["x"] + cue["width"] <= 375
        region.focus()
        page.keyboard.press("ArrowRight")
        page.wait_for_function("() => document.activeElement.scrollLeft > 0")
        # the cue stays where it can be read
        assert region.locator(".sideways").bounding_box()["x"] == pytest.approx(cue["x"], abs=1)


def test_figures_stand_at_the_right_and_words_at_the_left(open_page):
    page = open_page(1440)
    page.evaluate(UNFOLD)
    align = "(each) => getComputedStyle(each).textAlign"
    for table in page.locator("table").all():
        for row in table.locator("tbody tr").all()[:1]:
            for cell in row.locator("td").all():
                if re.search(r"^[-\d].*[\d)]$", cell.inner_text()):
                    assert cell.evaluate(align) == "right", cell.inner_text()
    assert page.locator("#sets-1 td:last-child").first.evaluate(align) == "left"
