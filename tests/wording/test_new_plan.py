"""Plans written from published programmes: same doses, another side, dates by week, every field explained once."""

import re
import tomllib
from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imu_rom.dose.plan_file import plan_from_bytes, read_plan
from imu_rom.dose.protocol_catalogue import protocol_names, read_protocol
from imu_rom.errors import PlanError
from imu_rom.wording.new_plan import EARLIEST, LATEST, first_days, new_plan
from imu_rom.wording.plan_notes import field_note

NAMES = protocol_names()
START = date(2026, 12, 1)


def exercises(plan):
    return [each for stage in plan.stages for each in stage.exercises]


@settings(deadline=None, max_examples=60)
@given(
    st.sampled_from(NAMES),
    st.sampled_from(["left", "right"]),
    st.dates(EARLIEST, LATEST),
    st.none() | st.floats(5, 45).map(lambda value: round(value, 1)),
)
def test_a_new_plan_asks_for_the_doses_of_its_programme(name, side, start, own_range_deg):
    published = read_protocol(name)
    if "own range" not in new_plan(name, side=side, start=start):
        own_range_deg = None
    text = new_plan(name, side=side, start=start, patient="P-0001", own_range_deg=own_range_deg)
    plan = plan_from_bytes(text.encode(), "plan.toml")
    assert plan.patient == "P-0001"
    assert plan.protocol == published.protocol
    assert plan.tendon_site == published.tendon_site
    assert plan.current_stage == published.stages[0].name
    assert [(each.name, each.weeks, each.goal, each.criteria) for each in plan.stages] == [
        (each.name, each.weeks, each.goal, each.criteria) for each in published.stages
    ]
    assert plan.stages[0].from_date == start
    for written, given_ in zip(exercises(plan), exercises(published), strict=True):
        expected = replace(given_, side=side)
        if given_.share_of_own_range is not None and own_range_deg is None:
            expected = replace(expected, share_of_own_range=None, end_range_reference="neutral")
        elif given_.share_of_own_range is not None:
            angles = tuple(round(each * own_range_deg, 1) for each in given_.share_of_own_range)
            expected = replace(expected, end_range_deg=angles)
        assert written == expected


@pytest.mark.parametrize("side", ["left", "right"])
@pytest.mark.parametrize("name", NAMES)
def test_a_written_plan_is_read_from_its_file(name, side, tmp_path):
    path = tmp_path / "plan.toml"
    path.write_text(new_plan(name, side=side, start=START), encoding="utf-8")
    plan = read_plan(path)
    assert {each.side for each in exercises(plan)} == {side}
    assert plan.title.endswith(f"({side})")


def test_stages_by_week_begin_on_the_weeks_first_days():
    days = first_days(read_protocol("beyer-2015").stages, START)
    # weeks 1, 2, 4, 6 and 9
    assert days == (START, date(2026, 12, 8), date(2026, 12, 22), date(2027, 1, 5), date(2027, 1, 26))
    plan = plan_from_bytes(new_plan("beyer-2015", side="left", start=START).encode(), "plan.toml")
    assert tuple(each.from_date for each in plan.stages) == days
    assert plan.stage_on(date(2027, 1, 25)).name == "weeks 6 to 8"


@pytest.mark.parametrize("name", ["silbernagel-2007", "breda-2021", "insertional-ladder"])
def test_stages_that_go_by_the_tendon_get_no_day_but_the_first(name):
    days = first_days(read_protocol(name).stages, START)
    assert days[0] == START
    assert set(days[1:]) == {None}


def test_a_window_by_share_waits_for_the_own_range():
    without = new_plan("end-range-holds", side="left", start=START)
    assert '# end_range_deg = "80 % of own range"' in without
    assert "# [[own_range]]" in without
    # taking the # away is all there is to do, once the range is known
    mended = without.replace('# end_range_deg = "80', 'end_range_deg = "80').replace("# deg = 0.0", "deg = 30.0")
    mended = re.sub(r"^# (?=\[\[own_range|side|on = |by = )", "", mended, flags=re.MULTILINE)
    (hold,) = exercises(plan_from_bytes(mended.encode(), "plan.toml"))
    assert hold.end_range_deg == (24.0, float("inf"))


def test_lines_that_are_commented_out_are_fields_that_can_be_used():
    for name in NAMES:
        text = new_plan(name, side="right", start=START)
        usable = re.sub(r"^# (?=[a-z_]+ = |\[\[)", "", text, flags=re.MULTILINE).replace("deg = 0.0 ", "deg = 30.0 ")
        plan = plan_from_bytes(usable.replace(f"from = {START + timedelta(weeks=6)}", "").encode(), f"{name}.toml")
        assert plan.sessions_recorded_per_week == 2
        assert plan.time_zone == "Europe/Berlin"


@pytest.mark.parametrize("name", NAMES)
def test_every_field_is_explained_where_it_comes_first(name):
    text = new_plan(name, side="left", start=START, patient="P-0001")
    lines = text.splitlines()
    assert max(map(len, lines)) <= 120
    tables = tomllib.loads(text)
    places = {
        "plan": [tables["plan"]],
        "stage": tables["stage"],
        "stage.criteria": [each["criteria"] for each in tables["stage"] if "criteria" in each],
        "stage.exercise": [each for stage in tables["stage"] for each in stage["exercise"]],
    }
    used = {(table, field) for table, rows in places.items() for row in rows for field in row}
    used -= {("plan", "protocol"), ("stage", "exercise"), ("stage", "criteria")}
    explained, table = set(), ""
    for before, line in zip(["", *lines], lines, strict=False):
        if header := re.fullmatch(r"\[+([a-z_.]+)\]+", line):
            table = header[1]
        if field := re.match(r"([a-z_]+) = ", line):
            place = (table, field[1])
            if place not in explained and place in used:
                assert " # " in line or before == f"# {field[1]}: {field_note(table, field[1])}", line
                explained.add(place)
    assert explained == used


def test_the_programme_and_what_is_from_memory_stay_in_the_plan():
    text = new_plan("goom-2016", side="left", start=START)
    assert text.startswith("# Written by imu-rom plan new --from goom-2016 --side left --start 2026-12-01.\n")
    assert "From memory:" in text
    assert "diagnoses nothing" in text


@given(st.text(min_size=1, max_size=30))
@settings(deadline=None, max_examples=60)
def test_any_pseudonym_is_kept_as_it_is_or_refused(patient):
    try:
        text = new_plan("jonsson-2008", side="left", start=START, patient=patient)
    except PlanError as error:
        refused = error.where
    else:
        refused = None
        assert plan_from_bytes(text.encode(), "plan.toml").patient == patient
    assert refused in (None, "field plan.patient")


@pytest.mark.parametrize("day", [date(1989, 12, 31), date(2200, 1, 1), date.max])
def test_a_start_with_a_wrong_digit_is_refused(day):
    with pytest.raises(PlanError, match="start must be a day from 1990-01-01 to 2199-12-31, got"):
        new_plan("beyer-2015", side="left", start=day)


def test_an_own_range_is_refused_where_nothing_counts_from_it():
    with pytest.raises(PlanError, match="an own range must be left out with rio-2015"):
        new_plan("rio-2015", side="left", start=START, own_range_deg=30)


@pytest.mark.parametrize("deg", [float("nan"), float("inf"), 200.0, -5.0])
def test_an_impossible_own_range_is_refused(deg):
    with pytest.raises(PlanError) as error:
        new_plan("end-range-holds", side="left", start=START, own_range_deg=deg)
    assert error.value.where.startswith("field ")
