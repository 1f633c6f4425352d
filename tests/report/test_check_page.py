"""The page about a check: its words are the command line's, its figures those of the file, all text is escaped."""

import html
import re
from dataclasses import fields, replace

import pytest

from imu_rom.exchange.check import rounded_check
from imu_rom.findings import Finding
from imu_rom.report.check_page import CheckPage, check_page, check_page_bytes
from imu_rom.report.interval_plot import interval_plot
from imu_rom.wording import sensor_check_text, taping_text
from imu_rom.wording.cautions import CAUTION

HOSTILE = "<script>alert(1)</script>\"'&{{7*7}}"


@pytest.fixture(scope="module")
def sensor_check(made_sensor_check):
    return rounded_check(made_sensor_check)


@pytest.fixture(scope="module")
def taping_check(made_taping_check):
    return rounded_check(made_taping_check)


def text_of(check):
    return html.unescape(re.sub("</?span>", "", check_page_bytes(check_page(check)).decode()))


def test_all_sentences_and_cells_are_on_the_page(sensor_check, taping_check):
    text = text_of(sensor_check)
    for sentence in (*sensor_check_text.sensor_check_sentences(sensor_check), *sensor_check_text.NOT_SHOWN, CAUTION):
        assert sentence in text
    rows = sensor_check_text.position_rows(sensor_check) + sensor_check_text.turn_rows(sensor_check)
    for row in rows + sensor_check_text.rest_rows(sensor_check):
        for cell in row:
            assert cell in text
    assert "Caution: The sensor on foot is off." in text
    text = text_of(taping_check)
    for sentence in (*taping_text.taping_sentences(taping_check), *taping_text.NOT_SHOWN, CAUTION):
        assert sentence in text
    for row in taping_text.taping_rows(taping_check):
        for cell in row:
            assert cell in text
    assert "zero_pose_deg (the zero where angles count from the joint's own zero), deg" in text
    assert "<dd>2.309</dd>" in text


def test_a_plan_that_takes_nothing_is_told_so(sensor_check):
    assert "A plan takes nothing from this check: its usual values are enough." in text_of(
        replace(sensor_check, plan_parts={})
    )


def test_the_page_shows_all_its_content_and_nothing_is_missing(sensor_check):
    content = check_page(sensor_check)
    assert {each.name for each in fields(CheckPage)} == {
        "title",
        "facts",
        "summary",
        "plan_parts",
        "cautions",
        "findings",
        "figure",
        "tables",
        "not_shown",
        "provenance",
    }
    assert check_page_bytes(content) == check_page_bytes(check_page(sensor_check))


@pytest.mark.parametrize("which", ["sensor_check", "taping_check"])
def test_the_page_asks_the_network_for_nothing_and_runs_nothing(which, request):
    text = text_of(request.getfixturevalue(which))
    assert "default-src 'none'" in text
    assert "<script" not in text
    assert not re.search(r"(?:\bsrc|href|action)\s*=|url\(|@import", text)
    ids = re.findall(r'\bid="([^"]+)"', text)
    assert len(ids) == len(set(ids))
    for target in re.findall(r'aria-labelledby="([^"]+)"', text):
        assert target in ids


def test_hostile_text_is_only_text(sensor_check, taping_check):
    recording = replace(sensor_check.recording, label=HOSTILE, sensors={HOSTILE: sensor_check.recording.sensor("foot")})
    sensors = tuple(replace(each, tracked_point=HOSTILE) for each in sensor_check.sensors)
    findings = (Finding("x", "note", HOSTILE),)
    tapings = tuple(replace(each, label=HOSTILE) for each in taping_check.tapings)
    for check in (
        replace(sensor_check, recording=recording, sensors=sensors, findings=findings),
        replace(taping_check, tapings=tapings, findings=findings),
    ):
        raw = check_page_bytes(check_page(check)).decode()
        assert "<script" not in raw
        assert HOSTILE in html.unescape(raw)


def test_the_picture_has_each_value_at_its_place():
    plot = interval_plot("t", "x, deg", [("a", 1.0, 0.0, 2.0), ("b", -1.0, None, None)], 0.0, (-0.5, 0.5))
    for layout in plot.layouts:
        places = {float(label): x for x, label in layout.ticks}
        assert places[0.0] == layout.line_x
        assert [each.x for each in layout.rows] == [places[1.0], places[-1.0]]
        assert (layout.rows[0].low_x, layout.rows[0].high_x) == (places[0.0], places[2.0])
        assert (layout.rows[1].low_x, layout.rows[1].high_x) == (None, None)
        # halfway between ticks, of which a narrow picture may leave out every other
        assert layout.band_x == pytest.approx([(places[0.0] + places[each]) / 2 for each in (-1.0, 1.0)], abs=0.1)
        assert all(layout.left <= x <= layout.right for x in places.values())
    assert plot.description == "t. a: 1.00, between 0.00 and 2.00; b: -1.00."


def test_the_picture_of_equal_values_can_be_drawn():
    plot = interval_plot("t", "x", [("a", 3.0, 3.0, 3.0)], 3.0)
    for layout in plot.layouts:
        assert layout.rows[0].x == layout.line_x
        assert len(layout.ticks) >= 3


def test_words_that_would_not_fit_are_cut_in_the_picture_alone():
    plot = interval_plot("t", "x", [("r" * 60, 1.0, None, None)], 0.0)
    wide, narrow = (each.rows[0].words for each in plot.layouts)
    assert len(wide) < len(narrow) < 60
    assert (wide[-1], narrow[-1]) == ("\u2026", "\u2026")
    assert "r" * 60 in plot.description
