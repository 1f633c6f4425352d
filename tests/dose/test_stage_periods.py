"""The calendar as spans of days: they say of every day what `Plan.stage_on` says, and where it goes back."""

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given
from hypothesis import strategies as st

from imu_rom.dose.exercise import Exercise
from imu_rom.dose.plan import CalendarEntry, Plan, Stage
from imu_rom.dose.stage_periods import days_of_stage, stage_periods, weeks_in_calendar

DROP = Exercise("drop", "ankle", "dorsiflexion", "left", "shank", "foot", 3, 15)
START = date(2026, 12, 1)
PLAN = Plan("Heel", "achilles insertion", tuple(Stage(each, (DROP,)) for each in "abc"), "a")


def with_calendar(*entries):
    return replace(PLAN, calendar=tuple(CalendarEntry(START + timedelta(day), *entry) for day, *entry in entries))


def spans(plan):
    return [(each.stage, (each.first_day - START).days, each.days, each.move, each.why) for each in stage_periods(plan)]


def test_a_step_back_is_a_period_of_its_own_with_its_reason():
    plan = with_calendar((0, "a"), (14, "b"), (18, "a", "flare"), (28, "a", "still"), (30, "c"))
    assert spans(plan) == [
        ("a", 0, 14, "first", None),
        ("b", 14, 4, "on", None),
        ("a", 18, 10, "back", "flare"),
        ("a", 28, 2, "same", "still"),
        ("c", 30, None, "on", None),
    ]
    a, b, c = plan.stages
    assert [days_of_stage(plan, each) for each in (a, b, c)] == [26, 4, None]
    assert weeks_in_calendar(plan, a) * 7 == 26
    assert weeks_in_calendar(plan, c) is None


def test_dates_in_the_stages_end_by_until_or_when_the_next_begins():
    a, b, c = PLAN.stages
    dated = (
        replace(a, from_date=START, until_date=START + timedelta(6)),
        replace(b, from_date=START + timedelta(9)),
        replace(c, from_date=START + timedelta(20)),
    )
    assert spans(replace(PLAN, stages=dated)) == [
        ("a", 0, 7, "first", None),
        ("b", 9, 11, "on", None),
        ("c", 20, None, "on", None),
    ]


def test_without_dates_there_are_no_periods():
    assert stage_periods(PLAN) == ()
    assert days_of_stage(PLAN, PLAN.stages[0]) is None


@given(
    days=st.lists(st.integers(0, 60), min_size=1, max_size=6, unique=True).map(sorted),
    stages=st.lists(st.sampled_from("abc"), min_size=6, max_size=6),
)
def test_a_calendar_gives_each_day_to_the_stage_that_holds(days, stages):
    plan = with_calendar(*zip(days, stages, strict=False))
    for offset in range(-1, 70):
        day = START + timedelta(offset)
        held = [each.stage for each in stage_periods(plan) if each.holds_on(day)]
        stage = plan.stage_on(day)
        assert held == ([] if stage is None else [stage.name])


@given(
    first=st.lists(st.integers(0, 60), min_size=3, max_size=3, unique=True).map(sorted),
    lengths=st.lists(st.none() | st.integers(1, 20), min_size=3, max_size=3),
)
def test_stages_with_dates_give_each_day_to_the_stage_that_holds(first, lengths):
    stages = []
    for stage, day, length, end in zip(PLAN.stages, first, lengths, (*first[1:], 999), strict=True):
        from_date = START + timedelta(day)
        until = None if length is None else from_date + timedelta(min(length, end - day) - 1)
        stages.append(replace(stage, from_date=from_date, until_date=until))
    plan = replace(PLAN, stages=tuple(stages))
    for offset in range(-1, 90):
        day = START + timedelta(offset)
        held = [each.stage for each in stage_periods(plan) if each.holds_on(day)]
        stage = plan.stage_on(day)
        assert held == ([] if stage is None else [stage.name])
