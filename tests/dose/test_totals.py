"""Totals: exact sums of what the plan writes, and nothing where the plan leaves a number out."""

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.dose.exercise import Exercise, Tempo
from imu_rom.dose.plan import Stage
from imu_rom.dose.totals import (
    Amounts,
    exercise_total,
    repetition_under_tension_s,
    sessions_a_week,
    stage_totals,
    weeks_of,
)

DROP = Exercise(
    name="drop",
    joint="ankle",
    motion="dorsiflexion",
    side="left",
    proximal="shank",
    distal="foot",
    sets=3,
    repetitions=15,
    tempo=Tempo(3.0, None, 3.0, 5.0),
    per_day=2,
    days_per_week=7,
)
HOLD = replace(DROP, name="hold", kind="hold", sets=5, repetitions=1, tempo=Tempo(2.0, 45.0, 2.0))


def test_one_exercise_by_session_day_week_and_weeks():
    total = exercise_total(DROP, 12)
    assert total.repetitions == Amounts(45, 90, 630, 7560)
    # both phases of 3 s, without the pause at the start
    assert total.under_tension_s == Amounts(270, 540, 3780, 45_360)


def test_a_hold_counts_by_its_time_alone():
    assert exercise_total(HOLD).under_tension_s.a_session == 225
    assert repetition_under_tension_s(replace(DROP, tempo=Tempo(2.5, 2.0, 1.5))) == 6


def test_what_the_plan_leaves_out_is_not_guessed():
    assert repetition_under_tension_s(replace(DROP, tempo=Tempo(eccentric_s=3.0))) is None
    assert repetition_under_tension_s(replace(HOLD, tempo=Tempo())) is None
    assert exercise_total(replace(DROP, days_per_week=None), 12).repetitions == Amounts(45, 90, None, None)
    assert exercise_total(replace(DROP, per_day=None), 12).repetitions == Amounts(45, None, None, None)
    assert exercise_total(DROP).repetitions.in_all is None
    assert stage_totals(Stage("one", (DROP, replace(DROP, tempo=Tempo()))))[0].under_tension_s.a_session is None


def test_a_stage_of_three_weeks_lasts_three_weeks():
    assert weeks_of(Stage("weeks 6 to 8", (DROP,), weeks=(6, 8))) == 3
    assert weeks_of(Stage("one", (DROP,))) is None
    (total,) = stage_totals(Stage("weeks 6 to 8", (DROP,), weeks=(6, 8)))
    assert total.repetitions.in_all == 1890
    (total,) = stage_totals(Stage("weeks 6 to 8", (DROP,), weeks=(6, 8)), Fraction(10, 7))
    assert total.repetitions.in_all == 900


def test_sides_and_kinds_are_added_up_apart():
    totals = stage_totals(Stage("one", (DROP, HOLD, replace(DROP, name="other", side="right"), DROP)))
    assert [(each.side, each.kind, each.exercises) for each in totals] == [
        ("left", "repetitions", ("drop", "drop")),
        ("left", "hold", ("hold",)),
        ("right", "repetitions", ("other",)),
    ]
    assert [each.repetitions.a_day for each in totals] == [180, 10, 90]


def test_exercises_that_are_not_done_together_have_no_session_in_common():
    (total,) = stage_totals(Stage("one", (DROP, replace(DROP, per_day=1, days_per_week=3))))
    assert total.repetitions == Amounts(None, None, 630 + 135, None)


@pytest.mark.parametrize(("days", "a_week"), [(3.5, Fraction("157.5")), (2.3, Fraction("103.5"))])
def test_numbers_count_as_they_are_written(days, a_week):
    assert exercise_total(replace(DROP, per_day=1, days_per_week=days)).repetitions.a_week == a_week


@given(
    doses=st.lists(st.tuples(st.integers(1, 10), st.integers(1, 50)), min_size=1, max_size=5),
    tenths=st.integers(1, 70),
    weeks=st.integers(1, 52),
)
def test_a_stage_is_the_sum_of_its_exercises_in_any_order(doses, tenths, weeks):
    exercises = [
        replace(DROP, name=f"drop{i}", sets=sets, repetitions=count, days_per_week=tenths / 10)
        for i, (sets, count) in enumerate(doses)
    ]
    (total,) = stage_totals(Stage("one", tuple(exercises)), weeks)
    (backwards,) = stage_totals(Stage("one", tuple(exercises[::-1])), weeks)
    assert (total.repetitions, total.under_tension_s) == (backwards.repetitions, backwards.under_tension_s)
    assert total.repetitions.in_all == sum(exercise_total(each, weeks).repetitions.in_all for each in exercises)
    assert total.repetitions.a_week == total.repetitions.a_session * sessions_a_week(exercises[0])
    assert sessions_a_week(exercises[0]) == Fraction(2 * tenths, 10)
