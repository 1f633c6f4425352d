"""Changes of a plan's text: they keep comments and stages, and what comes out is a plan that says the change."""

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imu_rom.clinic.plan_changes import checked_plan, with_first_day, with_stage
from imu_rom.dose.protocol_catalogue import protocol_names
from imu_rom.errors import PlanError
from imu_rom.wording.new_plan import new_plan

SAMPLES = Path(__file__).parents[2] / "sample_recordings"
COURSE = (SAMPLES / "course" / "plan.toml").read_text()


def comments(text):
    return sorted(line.partition("#")[2].strip() for line in text.splitlines() if "#" in line)


def test_first_day_is_set_and_comments_stay():
    changed = with_first_day(COURSE, date(2027, 3, 1))
    assert checked_plan(changed).from_date == date(2027, 3, 1)
    assert comments(changed) == comments(COURSE)
    assert with_first_day(changed, date(2027, 3, 1)) == changed


def test_a_decision_is_the_last_entry_of_the_calendar():
    changed = with_stage(COURSE, "to the own limit", date(2027, 2, 22), "all criteria met")
    before, after = checked_plan(COURSE), checked_plan(changed)
    assert after.calendar[:-1] == before.calendar
    last = after.calendar[-1]
    assert (last.from_date, last.stage, last.why) == (date(2027, 2, 22), "to the own limit", "all criteria met")
    assert after.stages == before.stages
    assert comments(changed) == comments(COURSE)


def test_what_was_dated_for_later_is_taken_out():
    changed = with_stage(COURSE, "floor level", date(2027, 1, 10), "a flare")
    assert [each.from_date for each in checked_plan(changed).calendar] == [
        date(2026, 11, 30),
        date(2026, 12, 14),
        date(2027, 1, 4),
        date(2027, 1, 10),
    ]


def test_a_decision_before_all_entries_leaves_it_alone():
    changed = with_stage(COURSE, "floor level", date(2026, 11, 30), "from the start")
    assert [(each.from_date, each.why) for each in checked_plan(changed).calendar] == [
        (date(2026, 11, 30), "from the start")
    ]


def test_unknown_stage_is_refused_by_name():
    with pytest.raises(PlanError, match=r"'floor level'.*got 'jumping'"):
        with_stage(COURSE, "jumping", date(2027, 2, 22), "why")


@pytest.mark.parametrize("name", protocol_names())
def test_every_published_programme_can_be_decided_on(name):
    text = new_plan(name, side="left", start=date(2026, 12, 7), patient="P-1")
    plan = checked_plan(text)
    for stage in plan.stages:
        changed = checked_plan(with_stage(text, stage.name, date(2027, 1, 4), 'said "so"\\'))
        assert changed.stage_on(date(2027, 1, 4)).name == stage.name
        assert changed.stage_on(date(2030, 1, 4)).name == stage.name
        assert changed.calendar[-1].why == 'said "so"\\'
        if any(each.from_date for each in plan.stages):
            # before that day nothing is different
            for day in (date(2026, 12, 7), date(2027, 1, 3)):
                assert changed.stage_on(day).name == plan.stage_on(day).name


@settings(max_examples=30, deadline=None)
@given(st.text(min_size=1, max_size=60), st.dates(date(2026, 12, 1), date(2027, 12, 1)))
def test_whatever_the_reason_says_it_comes_back_or_is_refused(why, day):
    try:
        changed = checked_plan(with_stage(COURSE, "to +5 deg", day, why))
    except PlanError:
        return
    assert changed.calendar[-1].why == why
    assert changed.calendar[-1].from_date == day
