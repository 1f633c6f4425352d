"""Coverage of the intervals: in so many of all sessions the true time lies inside, counted by session and by set.

The sessions are made here, by the error model alone: true angles of heel drops, a zero that is off by N(0, u_shared)
once a session, and a slow error N(0, u_set) once a set. The true time is counted on the true angle by its closed form.
"""

import numpy as np
import pytest

from imu_rom.dose.comparison import compare_session
from imu_rom.dose.exercise import CompressionThreshold, Exercise
from imu_rom.dose.measured_exposure import MeasuredAngle, unseen_between
from imu_rom.motion.repetitions import Repetition, RepetitionSet

SESSIONS = 1000
SETS = 3
REPETITIONS = 2
RATE_HZ = 20.0
START_DEG, DOWN_S, HOLD_S, UP_S = -25.0, 2.5, 2.0, 1.5
EACH_S = DOWN_S + HOLD_S + UP_S


def repetition_at(start_s):
    hold_s = start_s + DOWN_S
    return Repetition(
        start_s=start_s,
        end_range_s=hold_s + HOLD_S / 2,
        stop_s=start_s + EACH_S,
        hold_start_s=hold_s,
        hold_stop_s=hold_s + HOLD_S,
        end_range_deg=0.0,
        end_range_uncertainty_deg=0.3,
        held_deg=None,
        start_deg=START_DEG,
        complete=True,
    )


SET_LIST = tuple(
    RepetitionSet(tuple(repetition_at((one * REPETITIONS + each) * EACH_S) for each in range(REPETITIONS)))
    for one in range(SETS)
)
AT_S = np.arange(round(SETS * REPETITIONS * EACH_S * RATE_HZ) + 1) / RATE_HZ
IN_REPETITION = np.minimum((AT_S / EACH_S).astype(int), SETS * REPETITIONS - 1)
DEPTH = np.interp(AT_S - IN_REPETITION * EACH_S, [0, DOWN_S, DOWN_S + HOLD_S, EACH_S], [0.0, 1.0, 1.0, 0.0])


def true_time_s(ends_deg, threshold_deg):
    over = np.maximum(ends_deg - threshold_deg, 0)
    return np.where(over > 0, HOLD_S + (DOWN_S + UP_S) * over / (ends_deg - START_DEG), 0.0)


@pytest.mark.parametrize(("u_shared_deg", "u_set_deg"), [(2.0, 1.0), (1.0, 2.0)])
def test_ninety_five_percent_intervals_hold_the_truth_in_93_to_98_percent(u_shared_deg, u_set_deg):
    draw = np.random.default_rng(2026)
    by_session = by_set = 0
    for _ in range(SESSIONS):
        ends = draw.normal(8.0, 1.5, SETS * REPETITIONS)
        threshold = float(ends.mean() - 4.0)
        error = draw.normal(0, u_shared_deg) + np.repeat(draw.normal(0, u_set_deg, SETS), REPETITIONS)
        measured = START_DEG + (ends - START_DEG)[IN_REPETITION] * DEPTH - error[IN_REPETITION]
        exercise = Exercise(
            "heeldrop", "ankle", "dorsiflexion", "left", "shank", "foot", SETS, REPETITIONS,
            compression_threshold=CompressionThreshold(threshold, "clinician"),
        )  # fmt: skip
        done = compare_session(exercise, SET_LIST, RATE_HZ, measured, u_shared_deg=u_shared_deg, u_set_deg=u_set_deg)
        times = true_time_s(ends, threshold).reshape(SETS, REPETITIONS).sum(axis=1)
        exposure = done.exposure
        by_session += exposure.past_threshold_low_s - 0.05 <= times.sum() <= exposure.past_threshold_high_s + 0.05
        by_set += sum(
            each.exposure.past_threshold_low_s - 0.05 <= time_s <= each.exposure.past_threshold_high_s + 0.05
            for each, time_s in zip(done.sets, times, strict=True)
        )
    assert 0.93 <= by_session / SESSIONS <= 0.98
    assert 0.93 <= by_set / SESSIONS / SETS <= 0.98


def test_the_error_common_to_a_set_is_zero_and_slow_error_together():
    assert MeasuredAngle(50.0, np.zeros(9), 2.0, 1.5).u_common_at(30.0, (0.0, 9.0)) == pytest.approx(2.5)


def test_codes_of_what_touches_a_stretch_come_once_each():
    measured = MeasuredAngle(
        50.0, np.zeros(9), 2.0, 1.5, gaps=[(3, 4), (5, 6)], disturbed=[("clipping", 4.5, 5.5), ("clipping", 9, 10)]
    )
    assert measured.codes_in(3.5, 5.2) == ("clipping", "gap")
    assert measured.codes_in(4.0, 4.5) == ()
    assert measured.codes_in(6.5, 12) == ("clipping",)


def test_time_without_data_between_repetitions():
    one = RepetitionSet((repetition_at(10.0), repetition_at(20.0)))
    assert unseen_between(one, [(8, 9.5), (12, 13), (15.5, 17), (16.5, 18), (19, 21), (25.5, 27)]) == [
        (16, 18),
        (19, 20),
    ]
    assert unseen_between(one, []) == []
