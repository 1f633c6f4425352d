"""A whole course: it adds up, order and repeats do not matter, plans apply from their day, stages come back."""

import random
import time
from dataclasses import replace
from datetime import date, timedelta
from datetime import time as clock

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imu_rom.dose.criteria import Criteria, LoadTest
from imu_rom.dose.follow_up import DiaryEntry
from imu_rom.dose.plan import CalendarEntry, Stage
from imu_rom.dose.weeks import follow_up
from imu_rom.errors import CourseError

FIRST = date(2026, 12, 1)


def day(number):
    return FIRST + timedelta(days=number)


@pytest.fixture(scope="module")
def four_weeks(daily, plan_of, session_of):
    """A plan with all criteria; recordings and diary of 28 days with gaps, ticks and a flare."""
    criteria = Criteria(
        share_of_dose=0.8,
        pain_during_at_most=4,
        pain_after_at_most=4,
        pain_next_morning_at_most=3,
        no_rise_week_on_week=True,
        days_stable=7,
        load_test=LoadTest("10 single-leg heel raises", 3),
        side_difference_deg_at_most=5,
        in_words=("walks 30 minutes without a limp",),
    )
    plan = plan_of(daily, criteria=criteria, sessions_recorded_per_week=2.0, settles_within_h=24.0)
    recorded = [
        session_of(daily, day(i), 7, past_s=(30.0 + i, 20.0, 45.0 + i), zero_doubtful=i == 9) for i in range(0, 28, 3)
    ]
    diary = []
    for i in range(28):
        if i % 9 != 8:
            pain = 6.0 if i == 13 else float(i % 3)
            diary += [
                DiaryEntry(day(i), clock(7, 10), "heeldrop", "left", "yes", pain_during=pain, line=2 * i),
                DiaryEntry(day(i), clock(19), "heeldrop", "left", "part", pain_after=1.0, line=2 * i + 1),
                DiaryEntry(day(i), pain_next_morning=float(i % 2), stiffness_min=10.0, line=100 + i),
            ]
    return plan, recorded, diary


@given(seed=st.integers(0, 2**32 - 1))
@settings(max_examples=15, deadline=None)
def test_order_does_not_matter_and_repeats_change_only_their_count(four_weeks, seed):
    plan, recorded, diary = four_weeks
    usual = follow_up([plan], recorded, diary, day(27))
    shuffled = random.Random(seed)  # noqa: S311  no secret
    twice = [*recorded, *shuffled.choices(recorded, k=3)]
    lines = [*diary, *shuffled.choices(diary, k=5)]
    shuffled.shuffle(twice)
    shuffled.shuffle(lines)
    again = follow_up([plan], twice, lines, day(27))
    assert (again.repeated_recordings, again.repeated_lines) == (3, 5)
    assert replace(again, repeated_recordings=0, repeated_lines=0) == usual


@given(border=st.integers(1, 3))
@settings(max_examples=3, deadline=None)
def test_a_course_split_at_a_weeks_border_adds_up(four_weeks, border):
    plan, recorded, diary = four_weeks
    whole = follow_up([plan], recorded, diary, day(27))
    first = follow_up([plan], recorded, diary, day(7 * border - 1))
    second = follow_up([replace(plan, from_date=day(7 * border))], recorded, diary, day(27))
    assert [each.doses for each in (*first.weeks, *second.weeks)] == [each.doses for each in whole.weeks]
    assert [each.measured for each in (*first.weeks, *second.weeks)] == [each.measured for each in whole.weeks]
    names = ("sessions_prescribed", "repetitions_recorded", "repetitions_ticked", "repetitions_prescribed")
    for name in (*names, "sessions_recorded", "sessions_ticked_in_part", "under_tension_recorded_s"):
        total, parts = getattr(whole.doses[0], name), [getattr(each.doses[0], name) for each in (first, second)]
        assert total == pytest.approx(sum(parts))
        assert total == pytest.approx(sum(getattr(each.doses[0], name) for each in whole.days))


def test_a_plan_changed_on_the_way_applies_from_its_day(daily, plan_of, session_of):
    light = replace(daily, sets=1, repetitions=10)
    plans = [plan_of(daily, from_date=day(3)), plan_of(light)]
    recorded = [session_of(light, day(2)), session_of(daily, day(3))]
    answer = follow_up(plans, recorded, [], day(4))
    assert [each.plan for each in answer.days] == [0, 0, 0, 1, 1]
    assert [each.doses[0].repetitions_prescribed for each in answer.days] == [20, 20, 20, 90, 90]
    assert [each.doses[0].repetitions_recorded for each in answer.days] == [0, 0, 10, 45, 0]
    assert answer.plan.from_date == day(3)


def test_a_stage_that_comes_back_is_a_run_of_its_own_and_a_step_back(daily, plan_of):
    stages = (Stage("floor", (replace(daily, limit_deg=2.0),)), Stage("into range", (daily,)))
    calendar = (
        CalendarEntry(day(0), "floor", "start"),
        CalendarEntry(day(4), "into range", "criteria met"),
        CalendarEntry(day(6), "floor", "a flare"),
    )
    answer = follow_up([plan_of(stages=stages, calendar=calendar)], [], [], day(8))
    assert [(each.stage, each.from_day, each.step_back, each.why) for each in answer.runs] == [
        ("floor", day(0), False, "start"),
        ("into range", day(4), False, "criteria met"),
        ("floor", day(6), True, "a flare"),
    ]
    assert answer.stage is not None
    assert answer.stage.name == "floor"
    assert answer.weeks[0].stages == ("floor", "into range")


def test_what_lies_outside_the_course_is_named_and_not_counted(daily, plan_of, session_of):
    recorded = [session_of(daily, day(-400)), session_of(daily, day(0)), session_of(daily, day(9))]
    answer = follow_up([plan_of(daily)], recorded, [DiaryEntry(day(12))], day(6))
    assert answer.days_outside == (day(-400), day(9), day(12))
    assert answer.doses[0].sessions_recorded == 1


def test_without_any_date_the_course_starts_with_its_first_recording(daily, plan_of, session_of):
    plan = plan_of(stages=(Stage("into range", (daily,)),))
    answer = follow_up([plan], [session_of(daily, day(5))], [], day(9))
    assert (answer.from_day, len(answer.days)) == (day(5), 5)


def test_two_plans_from_one_day_no_plan_and_a_last_day_before_the_first_are_refused(daily, plan_of):
    plan = plan_of(daily)
    with pytest.raises(CourseError, match="two plans apply from the beginning: 'made' and 'made'"):
        follow_up([plan, plan], [], [], day(3))
    with pytest.raises(CourseError, match="two plans apply from 2026-12-02"):
        follow_up([plan, replace(plan, from_date=day(1)), replace(plan, from_date=day(1))], [], [], day(3))
    with pytest.raises(CourseError, match="needs a plan"):
        follow_up([], [], [], day(3))
    with pytest.raises(CourseError, match="the last day must lie from 0 to 3660 days after the first, 2026-12-01"):
        follow_up([plan], [], [], day(-1))


def test_an_empty_course_meets_nothing_and_says_what_is_missing(four_weeks):
    plan, _, _ = four_weeks
    answer = follow_up([plan], [], [], day(27))
    assert {each.answer for each in answer.criteria} == {"not enough data", "for the clinician"}
    assert answer.case.progress == ()
    assert {each.answer for each in answer.patterns if each.name != "gap in recordings"} <= {"undecided", "not seen"}
    missing = {each.what for each in answer.missing}
    assert {"no recording", "diary", "pain next morning", "load test"} <= missing


def test_twelve_weeks_of_four_sessions_a_day_are_summed_up_in_well_under_a_second(daily, plan_of, session_of):
    bent = replace(daily, name="heeldropbent", knee="bent")
    recorded = [
        session_of(each, day(i), hour, past_s=(30.0, 10.0 + i % 7, 50.0), session=f"{i} {hour}")
        for i in range(84)
        for hour in (7, 19)
        for each in (daily, bent)
    ]
    diary = [DiaryEntry(day(i), pain_next_morning=float(i % 4), pain_during=1.0) for i in range(84)]
    assert len(recorded) == 336
    follow_up([plan_of(daily, bent)], recorded[:8], diary, day(20))  # libraries load once
    start = time.process_time()
    answer = follow_up([plan_of(daily, bent)], recorded, diary, day(83))
    assert time.process_time() - start < 1.5
    assert sum(each.repetitions_recorded for each in answer.doses) == 15_120
    assert sum(each.repetitions_prescribed for each in answer.doses) == 15_120


@pytest.mark.parametrize("seen", [1.25, None])
def test_a_way_back_that_was_not_seen_counts_as_no_time_not_as_none_at_all(daily, plan_of, session_of, seen):
    """On the floor the last movement of a set may have none; here the last of each set, or all of them."""
    recorded = []
    for number in range(10):
        one = session_of(daily, day(number), phases=(2.5, 2.0, seen))
        sets = tuple(
            replace(each, repetitions=(*each.repetitions[:-1], replace(each.repetitions[-1], concentric_s=None)))
            for each in one.sets
        )
        recorded.append(replace(one, sets=sets))
    course = follow_up([plan_of(daily)], recorded, (), day(9))
    phases = {each.phase: each for week in course.weeks for part in week.measured for each in part.phases}
    assert phases["eccentric"].median_s == 2.5
    if seen is None:
        assert "concentric" not in phases
    else:
        assert (phases["concentric"].lower_quartile_s, phases["concentric"].median_s) == (seen, seen)
