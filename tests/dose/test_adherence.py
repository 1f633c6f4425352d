"""Adherence: published shares, ticks beside recordings, nothing extrapolated, excess shown and capped."""

from dataclasses import replace
from datetime import date, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.dose.adherence import dose_over, tallies_by_day, wilson_interval
from imu_rom.dose.course_days import lay_out
from imu_rom.dose.exercise import Load, Tempo
from imu_rom.dose.follow_up import DiaryEntry
from imu_rom.dose.totals import repetition_under_tension_s
from imu_rom.settings import CourseSettings

FIRST = date(2026, 12, 1)
TICK = DiaryEntry(FIRST, None, "heeldrop", "left", "yes")


@pytest.fixture
def dose(plan_of):
    """Function that counts a course of one exercise."""

    def counted(exercise, recorded=(), diary=(), days=1, **plan):
        course = lay_out([plan_of(exercise, **plan)], recorded, diary, FIRST + timedelta(days=days - 1))
        tallies = tallies_by_day(course, CourseSettings())
        (found,) = dose_over(each for day in course.days for each in tallies[day])
        return found

    return counted


def test_heavy_slow_resistance_done_faster_than_prescribed(daily, dose, session_of):
    # weeks 9 to 12 of Beyer 2015: 3 exercises of 4 x 6 at 6 s, here as one; 60 repetitions of 5.0 s were measured
    slow = replace(daily, sets=12, repetitions=6, tempo=Tempo(3.0, None, 3.0), per_day=1.0)
    recorded = session_of(slow, FIRST, depths=[[10.0] * 6] * 10, phases=(2.5, 0.0, 2.5))
    found = dose(slow, [recorded])
    assert (found.repetitions_prescribed, found.under_tension_prescribed_s) == (72, 432)
    assert (found.repetitions_recorded, found.under_tension_recorded_s) == (60, 300)
    assert round(100 * found.repetitions_share.recorded, 1) == 83.3
    assert round(100 * found.under_tension_share.recorded, 1) == 69.4


@pytest.mark.parametrize("days", [1, 7])
def test_five_sixths_of_a_hundred_and_eighty_a_day(daily, dose, session_of, days):
    # Alfredson 1998: 3 x 15, two knee positions, twice a day: 180 a day, 1260 a week
    both = replace(daily, sets=6)
    half = [[10.0] * 15] * 5
    recorded = [session_of(both, FIRST + timedelta(days=i), hour, depths=half) for i in range(days) for hour in (7, 19)]
    found = dose(both, recorded, days=days)
    assert (found.repetitions_recorded, found.repetitions_prescribed) == (150 * days, 180 * days)
    assert round(100 * found.repetitions_share.with_ticks, 1) == 83.3
    assert found.repetitions_missing == 30 * days


@pytest.mark.parametrize(("twice_a_day", "a_week", "twelve_weeks"), [(6, 1260, 15_120), (3, 630, 7560)])
def test_published_totals_of_twelve_weeks(daily, dose, twice_a_day, a_week, twelve_weeks):
    exercise = replace(daily, sets=twice_a_day)
    assert dose(exercise, days=7).repetitions_prescribed == a_week
    assert dose(exercise, days=84).repetitions_prescribed == twelve_weeks


# Beyer 2015 by week: 3 exercises of 3 x 15, 3 x 12, 4 x 10, 4 x 8, 4 x 6, 6 s a repetition
@pytest.mark.parametrize(
    ("sets", "repetitions", "seconds"), [(9, 15, 810), (9, 12, 648), (12, 10, 720), (12, 8, 576), (12, 6, 432)]
)
def test_published_times_under_tension_of_a_session(daily, dose, sets, repetitions, seconds):
    slow = replace(daily, sets=sets, repetitions=repetitions, tempo=Tempo(3.0, None, 3.0), per_day=1.0)
    assert dose(slow).under_tension_prescribed_s == seconds
    three_a_week = replace(slow, days_per_week=3.0)
    assert dose(three_a_week, days=7).under_tension_prescribed_s == 3 * seconds


def test_a_tick_is_the_dose_by_the_persons_word_and_kept_apart(daily, dose):
    found = dose(daily, diary=[replace(TICK, line=1), replace(TICK, done="part", line=2)])
    assert (found.sessions_recorded, found.sessions_ticked, found.sessions_ticked_in_part) == (0, 1, 1)
    assert (found.repetitions_recorded, found.repetitions_ticked) == (0, 45)
    assert (found.repetitions_share.recorded, found.repetitions_share.with_ticks) == (0.0, 0.5)
    assert (found.sessions_missing, found.repetitions_missing) == (0, 45)


def test_a_session_that_was_recorded_and_ticked_counts_once(daily, dose, session_of):
    recorded = [session_of(daily, FIRST, 8)]
    near = dose(daily, recorded, [replace(TICK, at=time(9, 30))])
    assert (near.sessions_recorded, near.sessions_ticked, near.sessions_missing) == (1, 0, 1)
    untimed = dose(daily, recorded, [TICK])
    assert (untimed.sessions_recorded, untimed.sessions_ticked) == (1, 0)
    evening = dose(daily, recorded, [replace(TICK, at=time(19))])
    assert (evening.sessions_recorded, evening.sessions_ticked, evening.sessions_missing) == (1, 1, 0)
    both = dose(daily, recorded, [replace(TICK, line=1), replace(TICK, line=2)])
    assert (both.sessions_recorded, both.sessions_ticked) == (1, 1)


def test_a_tick_after_midnight_is_near_a_session_before_it(daily, dose, session_of):
    found = dose(daily, [session_of(daily, FIRST, 23)], [replace(TICK, at=time(0, 20))])
    assert (found.sessions_recorded, found.sessions_ticked) == (1, 0)


def test_of_a_session_part_recorded_the_number_is_the_recorded_one(daily, dose, session_of):
    short = session_of(daily, FIRST, depths=[[10.0] * 15])
    found = dose(daily, [short], [replace(TICK, done="part")])
    assert (found.sessions_ticked_in_part, found.repetitions_recorded, found.repetitions_ticked) == (0, 15, 0)


def test_yes_and_no_about_one_moment_is_no(daily, dose):
    at = replace(TICK, at=time(8))
    found = dose(daily, diary=[replace(at, line=1), replace(at, line=2, done="no")])
    assert (found.sessions_ticked, found.sessions_said_not_done, found.repetitions_ticked) == (0, 1, 0)


def test_a_line_that_names_no_exercise_speaks_of_all_prescribed_ones(daily, plan_of):
    bent = replace(daily, name="bent")
    own = replace(TICK, exercise="bent", done="part")
    lines = [replace(TICK, exercise=None, side=None), own]
    course = lay_out([plan_of(daily, bent)], [], lines, FIRST)
    doses = {each.exercise: each for each in dose_over(tallies_by_day(course, CourseSettings())[FIRST])}
    assert (doses["heeldrop"].sessions_ticked, doses["heeldrop"].sessions_ticked_in_part) == (1, 0)
    # what has a line of its own is not spoken of by the other
    assert (doses["bent"].sessions_ticked, doses["bent"].sessions_ticked_in_part) == (0, 1)


def test_a_frequency_that_was_not_prescribed_is_not_guessed(daily, dose, session_of):
    for unknown in (replace(daily, per_day=None), replace(daily, days_per_week=None)):
        found = dose(unknown, [session_of(unknown, FIRST)])
        assert found.sessions_prescribed is found.repetitions_share is found.sessions_missing is None
        assert found.repetitions_recorded == 45


def test_recordings_are_prescribed_apart_from_the_dose(daily, dose):
    found = dose(daily, days=7, sessions_recorded_per_week=2.0)
    assert (found.sessions_prescribed, found.recordings_prescribed) == (14, 2)
    assert dose(daily, days=7).recordings_prescribed == 14


def test_the_way_up_on_the_other_leg_is_no_time_under_tension_and_no_repetition(daily, dose, session_of):
    # Alfredson 1998: down on one leg, up on the other
    classic = replace(daily, load=Load("single leg", "other leg"))
    recorded = [session_of(classic, FIRST, 8, phases=(3.0, 2.0, 9.0))]
    found = dose(classic, recorded)
    assert (found.repetitions_recorded, found.under_tension_recorded_s) == (45, 45 * 5.0)
    tempo = daily.tempo
    assert repetition_under_tension_s(classic) == tempo.eccentric_s + tempo.end_range_hold_s
    assert found.under_tension_share.recorded == pytest.approx(
        45 * 5.0 / (90 * (tempo.eccentric_s + tempo.end_range_hold_s))
    )
    # a way up that is not prescribed does not matter there, and a leg that carries nothing has no such time
    assert repetition_under_tension_s(replace(classic, tempo=Tempo(eccentric_s=3.0))) == 3
    free = replace(daily, load=Load("unweighted", "unweighted"))
    assert dose(free, [session_of(free, FIRST)]).under_tension_recorded_s == 0
    assert dose(free).under_tension_share is None


def test_time_under_tension_of_a_hold_is_its_time_alone(daily, dose, session_of):
    hold = replace(daily, kind="hold", sets=5, repetitions=1, tempo=Tempo(end_range_hold_s=45.0), per_day=1.0)
    found = dose(hold, [session_of(hold, FIRST, depths=[[0.0]] * 5, phases=(2.0, 40.0, 2.0))])
    assert (found.under_tension_prescribed_s, found.under_tension_recorded_s) == (225, 200)


@given(
    recorded=st.lists(st.integers(0, 30), max_size=4),
    ticks=st.lists(st.sampled_from(["yes", "part", "no"]), max_size=4),
    per_day=st.sampled_from([0.5, 1.0, 2.0]),
)
def test_capped_shares_are_one_at_most_and_ticks_only_add(daily, plan_of, session_of, recorded, ticks, per_day):
    exercise = replace(daily, sets=1, per_day=per_day)
    sessions = [session_of(exercise, FIRST, 8 + i, depths=[[9.0] * count]) for i, count in enumerate(recorded)]
    lines = [replace(TICK, done=done, line=i) for i, done in enumerate(ticks)]
    course = lay_out([plan_of(exercise)], sessions, lines, FIRST)
    (found,) = dose_over(tallies_by_day(course, CourseSettings())[FIRST])
    for share in (found.sessions_share, found.repetitions_share, found.under_tension_share):
        assert 0 <= share.recorded_capped <= share.with_ticks_capped <= 1
        assert share.recorded <= share.with_ticks
        assert share.with_ticks_capped == min(share.with_ticks, 1)
    assert found.repetitions_recorded == sum(recorded)
    assert found.sessions_recorded + found.sessions_ticked + found.sessions_ticked_in_part == max(
        len(recorded), len([each for each in ticks if each != "no"])
    )
    assert found.repetitions_missing * found.repetitions_excess == 0


# E. B. Wilson's interval of 8 of 10, as statistics texts print it (R's binom.confint: 0.4901625 to 0.9433178)
def test_wilson_interval_of_eight_of_ten():
    found = wilson_interval(8, 10)
    assert (round(found.low, 4), round(found.high, 4)) == (0.4902, 0.9433)
    assert wilson_interval(0, 0) is None
