"""The stage that held on a recording's day, by the calendar or by the stages' dates, and the own range of that day."""

import math
from dataclasses import replace
from datetime import date, time

import pytest

from imu_rom.dose.plan import CalendarEntry, OwnRange, Plan, Stage
from imu_rom.dose.stage_applied import plan_as_applied
from imu_rom.errors import PlanError


@pytest.fixture(scope="module")
def dated(heeldrop):
    stages = (
        Stage("floor level", (heeldrop,), date(2026, 12, 1), date(2026, 12, 10)),
        Stage("into range", (heeldrop,), date(2026, 12, 15)),
    )
    return Plan("t", "achilles insertion", stages, "into range", time_zone="Europe/Berlin", day_starts_at=time(3))


@pytest.mark.parametrize(
    ("recorded_at", "stage"),
    [
        ("2026-12-01T08:00:00+01:00", "floor level"),
        ("2026-12-10T23:30:00+01:00", "floor level"),
        ("2026-12-15T08:00:00+01:00", "into range"),
        # still the evening of the 10th, as the plan's day starts at three
        ("2026-12-11T01:30:00+01:00", "floor level"),
        # in Berlin it is half past four of the 15th
        ("2026-12-14T22:30:00-05:00", "into range"),
        (None, "into range"),
    ],
)
def test_the_stage_is_that_of_the_persons_day(dated, recorded_at, stage):
    assert plan_as_applied(dated, recorded_at).current_stage == stage


@pytest.mark.parametrize(
    ("day", "around"),
    [
        ("2026-11-30", "before the plan's first stage 'floor level' began (2026-12-01)"),
        (
            "2026-12-12",
            "after the plan's stage 'floor level' ended (2026-12-10) and before its stage 'into range' began",
        ),
    ],
)
def test_a_day_that_no_stage_held_is_refused_in_one_sentence(dated, day, around):
    with pytest.raises(PlanError) as caught:
        plan_as_applied(dated, f"{day}T12:00:00+01:00")
    do = "take the plan that held then, or say by --stage which stage it was"
    assert str(caught.value).startswith(f"the recording is of {day}, {around}")
    assert str(caught.value).endswith(f"; {do}.")


def test_after_the_last_stage_ended_too(dated):
    ended = replace(dated, stages=dated.stages[:1], current_stage="floor level")
    with pytest.raises(PlanError, match=r"after the plan's stage 'floor level' ended \(2026-12-10\); take"):
        plan_as_applied(ended, "2027-01-01T12:00:00+01:00")


def test_the_users_word_goes_before_the_day(dated):
    assert plan_as_applied(dated, "2026-12-01T08:00:00+01:00", "into range").current_stage == "into range"
    assert plan_as_applied(dated, "2020-01-01T08:00:00+01:00", "floor level").current_stage == "floor level"
    with pytest.raises(PlanError, match="stage must be one of 'floor level', 'into range', got 'in range'; perhaps"):
        plan_as_applied(dated, None, "in range")


def test_a_stage_that_comes_back_holds_again(dated):
    stages = tuple(replace(each, from_date=None, until_date=None) for each in dated.stages)
    days = ((1, "floor level"), (8, "into range"), (15, "floor level"))
    calendar = tuple(CalendarEntry(date(2026, 12, day), name) for day, name in days)
    plan = replace(dated, stages=stages, calendar=calendar)
    held = [plan_as_applied(plan, f"2026-12-{day:02}T12:00:00+01:00").current_stage for day in (7, 8, 14, 15, 31)]
    assert held == ["floor level", "into range", "into range", "floor level", "floor level"]


def test_without_days_the_current_stage_holds(dated):
    undated = replace(dated, stages=tuple(replace(each, from_date=None, until_date=None) for each in dated.stages))
    assert plan_as_applied(undated, "1999-01-01T08:00:00+01:00") == undated


def test_shares_of_the_own_range_count_from_what_was_measured_by_then(dated, heeldrop):
    share = replace(heeldrop, end_range_deg=None, share_of_own_range=(0.5, math.inf), limit_deg=None)
    ranges = tuple(
        OwnRange(heeldrop.side, deg, date(2026, 12, day), "knee-to-wall lunge") for day, deg in ((1, 20.0), (15, 30.0))
    )
    plan = replace(dated, stages=tuple(replace(each, exercises=(share,)) for each in dated.stages), own_ranges=ranges)
    for day, low in ((9, 10.0), (20, 15.0)):
        applied = plan_as_applied(plan, f"2026-12-{day:02}T12:00:00+01:00")
        assert applied.stage.exercises[0].end_range_deg == (low, math.inf)
