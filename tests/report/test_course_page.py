"""The page of a course: words of the command line, figures of ``progress.json``, and all text is escaped."""

import html
import json
import re
from collections import Counter
from dataclasses import fields, replace
from datetime import date, timedelta

import pytest

from imu_rom.exchange.progress import write_progress
from imu_rom.report.course_figure import course_figure
from imu_rom.report.course_page import CoursePage, course_page, course_page_blocks
from imu_rom.report.course_plot import course_plot
from imu_rom.wording.case_text import case_sentences, criteria_table
from imu_rom.wording.cautions import stage_cautions
from imu_rom.wording.change_text import change_sentences
from imu_rom.wording.course_text import first_of_all
from imu_rom.wording.measured_tables import exposure_table
from imu_rom.wording.pattern_text import pattern_sentences

HOSTILE = "<script>alert(1)</script>\"'&{{7*7}}<b>b</b>\u202e=1+1"


def text_of(document):
    page = b"".join(course_page_blocks(course_page(document))).decode()
    # the plotting script is not ours
    own = page[: page.index("<script>!") if "<script>!" in page else page.index("plotly.js v")]
    return html.unescape(re.sub('</?span( class="date")?>', "", own))


@pytest.fixture(scope="module")
def text(course_document):
    return text_of(course_document)


@pytest.fixture(scope="module")
def figure(course_document):
    return course_figure(course_document.answer, 5.0)


def test_page_and_terminal_speak_with_one_voice(course_document, text):
    answer = course_document.answer
    for sentence in (*stage_cautions(), *change_sentences(answer), *pattern_sentences(answer.patterns)):
        assert sentence in text
    for row in criteria_table(answer.stage.name, answer.criteria).rows + exposure_table(answer).rows:
        for cell in row:
            assert cell in text
    for sentence in case_sentences(answer.case):
        for part in re.split(r"(?<=progress): |(?<=stay): |(?<=back): |; ", sentence.removesuffix(".")):
            assert part in text


def test_what_is_urgent_stands_before_anything_else(course_until, text):
    assert "First of all" not in text
    sore = course_until(date(2027, 1, 2))
    said = text_of(sore)
    urgent = first_of_all(sore.answer)
    assert urgent
    places = [said.index(each) for each in (*urgent, "Criteria of stage", "The case", "The course in figures")]
    assert places == sorted(places)


def test_all_content_is_shown(course_document, text):
    content = course_page(course_document)
    assert {each.name for each in fields(CoursePage)} == set(vars(content))
    for each in content.tables:
        assert each.caption in text


def test_the_figures_numbers_are_those_of_the_file(course_document, figure):
    layout = json.loads(write_progress(course_document, ()))["course"]
    weeks = [
        (week["number"], each["past_threshold"]["sum_s"], each["past_threshold_prescribed"])
        for week in layout["weeks"]
        for each in week["measured"]
    ]
    shown = course_plot(figure).data["traces"]
    bars = [each for each in shown if each["type"] == "bar" and each["yaxis"] == "y2"]
    values = [value for each in bars for value in each["y"]]
    assert sorted(values) == sorted(each[1]["value"] for each in weeks)
    high = [value + more for each in bars for value, more in zip(each["y"], each["error_y"]["array"], strict=True)]
    assert sorted(high) == pytest.approx(sorted(each[1]["high"] for each in weeks))
    (asked,) = (each for each in shown if each["name"] == "prescribed")
    ends = sorted({value for value in asked["y"] if value is not None})
    assert ends == sorted({each[2][end] for each in weeks if each[2] for end in ("low_s", "high_s")})
    days = {
        day["day"]: each["end_range_median_deg"]
        for day in layout["days"]
        for each in day["measured"]
        if each["exercise"]
    }
    points = [each for each in shown if each["yaxis"] == "y4"]
    found = {x[:10]: y for each in points for x, y in zip(each["x"], each["y"], strict=True)}
    assert found == {day: each["value"] for day, each in days.items()}
    for name in ("during", "after", "next_morning"):
        (line,) = (each for each in shown if each["name"] == name)
        found = {x[:10]: y for x, y in zip(line["x"], line["y"], strict=True) if x}
        assert found == {day["day"]: day["pain"][name] for day in layout["days"] if day["pain"][name] is not None}


def test_each_day_is_recorded_ticked_or_missing_as_the_weeks_count_them(course_document, figure):
    states = dict(figure.days)
    assert len(states) == 84
    for week in course_document.answer.weeks:
        days = [week.from_day + timedelta(days=i) for i in range((week.to_day - week.from_day).days + 1)]
        counts = Counter(states[day] for day in days)
        assert counts["recorded"] == week.days_recorded
        assert counts["ticked"] + counts["said not done"] == week.days_ticked
        assert counts["nothing known"] == week.days_unknown


def test_the_detectable_change_stands_about_the_first_day_and_only_over_its_own_stage(course_document, figure):
    for band in figure.bands:
        stages = {each.stage for each in course_document.answer.days if band.from_day <= each.day <= band.to_day}
        assert len(stages) == 1
    changes = [each for each in course_document.answer.changes if each.between == "first and latest"]
    found = {(each.middle_deg, each.half_deg, each.lower_bound) for each in figure.bands}
    assert found == {(each.from_deg, each.detectable.mdc95_deg, True) for each in changes}
    # floor level and +5 deg each came twice
    assert len(figure.bands) == 5


def test_states_series_and_questions_differ_in_more_than_colour(figure):
    plot = course_plot(figure)
    for _, entries in plot.keys:
        looks = [(each.kind, each.pattern, each.colour == "#ffffff") for each in entries]
        assert len(set(looks)) == len(looks)


def test_a_hostile_name_is_text(course_document):
    answer = course_document.answer
    plan = replace(answer.plan, title=HOSTILE, patient=HOSTILE)
    stage = replace(answer.stage, name=HOSTILE)
    runs = tuple(replace(each, stage=HOSTILE, why=HOSTILE) for each in answer.runs)
    days = tuple(
        replace(day, stage=HOSTILE, measured=tuple(replace(each, exercise=HOSTILE) for each in day.measured))
        for day in answer.days
    )
    weeks = tuple(
        replace(week, measured=tuple(replace(each, exercise=HOSTILE) for each in week.measured))
        for week in answer.weeks
    )
    changes = tuple(replace(each, exercise=HOSTILE) for each in answer.changes)
    document = replace(
        course_document,
        answer=replace(answer, plan=plan, stage=stage, runs=runs, days=days, weeks=weeks, changes=changes),
    )
    page = b"".join(course_page_blocks(course_page(document))).decode()
    assert "<script>alert" not in page
    assert "<b>b</b>" not in page
    assert "{{7*7}}" in html.unescape(page)
    # nor may the plotting script read it as its own markup
    names = {each["name"] for each in course_plot(course_figure(document.answer, 5.0)).data["traces"]}
    assert not any("<" in each for each in names)


def test_the_same_course_gives_the_same_bytes_and_a_page_that_can_be_mailed(course_document):
    page = b"".join(course_page_blocks(course_page(course_document)))
    assert page == b"".join(course_page_blocks(course_page(course_document)))
    assert len(page) < 6_500_000


def test_a_course_of_one_day_without_recordings_has_a_page(course_until):
    document = course_until(date(2026, 11, 30))
    lonely = replace(
        document,
        answer=replace(
            document.answer,
            days=tuple(replace(each, measured=()) for each in document.answer.days),
            weeks=tuple(replace(each, measured=()) for each in document.answer.weeks),
            changes=(),
            stage=None,
            criteria=(),
        ),
    )
    text = text_of(lonely)
    assert "The course in figures" in text
    assert "Criteria of stage" not in text
