"""A session against a reference: what was done to the reference comes back out."""

from dataclasses import replace

import numpy as np
import pytest

from imu_rom.dose.angle_path import angle_path
from imu_rom.dose.exposure import time_past
from imu_rom.errors import CannotAnswerError
from imu_rom.recording.model import ReferenceChannel
from imu_rom.session import analyse
from imu_rom.session.reference import compare_with_reference, find_lag
from imu_rom.wording.reference_text import answer_rows, reference_sentences

RATE_HZ = 50.0


@pytest.fixture(scope="module")
def session(heel_drop_plan):
    from imu_rom.simulation import routine_from_exercise, simulate_session

    made = simulate_session(3, routine_from_exercise(heel_drop_plan.exercise()), rate_hz=RATE_HZ, subject="A01")
    return analyse(made.recording, heel_drop_plan), made.truth


@pytest.fixture(scope="module")
def heel_drop_plan():
    from imu_rom.dose.plan_file import plan_from_bytes

    text = """
    [plan]
    format = 1
    patient = "A-01"
    tendon_site = "achilles insertion"
    [[stage]]
    name = "one"
    [[stage.exercise]]
    name = "heeldrop"
    joint = "ankle"
    motion = "dorsiflexion"
    side = "left"
    proximal = "shank"
    distal = "foot"
    calibration_movement = "plantarflexion"
    sets = 2
    repetitions = 5
    tempo_s = { eccentric = 2, end_range_hold = 1, concentric = 1.5, top_pause = 0.6 }
    start_deg = -25
    end_range_deg = [5, 15]
    limit_deg = 22
    compression_threshold = { deg = 4, basis = "clinician" }
    """
    return plan_from_bytes(text.encode(), "made")


def channel(values):
    return ReferenceChannel("other", "ankle", np.asarray(values, dtype=np.float64))


def compared(session, values, **options):
    (found,) = compare_with_reference(session[0], channel(values), **options)
    return found


def own_angle(session):
    return session[0].exercises[0].trace.angle_deg


def test_the_own_angle_as_reference_differs_by_nothing(session):
    found = compared(session, own_angle(session))
    assert found.lag.lag_s == pytest.approx(0, abs=1e-4)
    assert found.root_mean_square_deg == pytest.approx(0, abs=1e-3)
    assert found.zero_difference_deg == pytest.approx(0, abs=0.3)
    assert (found.samples_covered, found.end_ranges_covered, found.times_covered) == (1, 1, 1)
    assert found.end_range.bias == pytest.approx(0, abs=0.05)
    assert found.time_past.low == pytest.approx(0, abs=0.02)
    for each in found.repetitions:
        assert each.reference_past_threshold_s == pytest.approx(each.past_threshold_s, abs=0.03)


@pytest.mark.parametrize("shift_deg", [-8.0, 3.0])
def test_a_shifted_zero_is_bias_and_zero_difference_and_nothing_else(session, shift_deg):
    found = compared(session, own_angle(session) + shift_deg)
    assert found.bias_deg == pytest.approx(-shift_deg)
    assert found.spread_deg == pytest.approx(0, abs=1e-3)
    assert found.end_range.bias == pytest.approx(-shift_deg, abs=0.05)
    assert found.zero_difference_deg == pytest.approx(shift_deg, abs=0.3)
    # three degrees are within what the session says of its zero, eight are not
    assert found.end_ranges_covered == (1 if abs(shift_deg) < 4 else 0)


@pytest.mark.parametrize("lag_s", [-1.2, 0.013, 0.5])
def test_the_lag_that_was_put_in_is_found_and_taken_out(session, lag_s):
    angle = own_angle(session)
    time_s = np.arange(len(angle)) / RATE_HZ
    late = np.interp(time_s - lag_s, time_s, angle)
    found = compared(session, late + 5.0)
    assert found.lag.lag_s == pytest.approx(lag_s, abs=0.002)
    assert found.spread_deg < 0.2
    given = compared(session, late, lag_s=0.0)
    assert given.lag.source == "given"
    assert given.spread_deg > found.spread_deg


def test_truth_as_reference_is_held_by_the_stated_intervals(session):
    _, truth = session
    found = compared(session, truth.angle_deg)
    assert (found.end_ranges_covered, found.times_covered) == (1, 1)
    assert found.samples_covered > 0.95
    assert found.root_mean_square_deg < 4.0
    assert found.zero_difference_deg == pytest.approx(truth.zero_shift_deg, abs=0.5)
    done = found.repetitions[0]
    true = truth.sets[0].repetitions[0]
    assert done.reference_end_range_deg == pytest.approx(true.end_range_deg, abs=0.3)
    path = angle_path(RATE_HZ, np.asarray(truth.angle_deg), true.start_s, true.stop_s)
    assert done.reference_past_threshold_s == pytest.approx(time_past(path, 4.0), abs=0.05)


def test_answers_are_counted_by_what_the_reference_says(session):
    shallow = compared(session, own_angle(session) - 100.0)
    rows = {(each[0], each[1]): [int(one) for one in each[2:]] for each in answer_rows(shallow)}
    repetitions = len([each for each in shallow.repetitions if each.complete])
    assert sum(rows["end range reached", "reference: no"]) == repetitions
    assert sum(rows["end range reached", "reference: yes"]) == 0
    assert sum(rows["limit kept", "reference: yes"]) == len(shallow.repetitions)
    deep = compared(session, own_angle(session) + 100.0)
    rows = {(each[0], each[1]): [int(one) for one in each[2:]] for each in answer_rows(deep)}
    assert sum(rows["limit kept", "reference: no"]) == len(deep.repetitions)


def test_where_the_reference_is_not_known_repetitions_are_left_out(session):
    values = own_angle(session).copy()
    first = session[0].exercises[0].comparison.sets[0].repetitions[0].repetition
    at = round(first.end_range_s * RATE_HZ)
    values[at : at + 3] = np.nan
    found = compared(session, values)
    assert found.left_out == 1
    assert [each.set for each in found.sets] == [2]
    assert "1 repetition was left out" in " ".join(reference_sentences(found))
    whole = compared(session, own_angle(session))
    assert len(found.repetitions) == len(whole.repetitions) - 1


def test_what_can_not_be_compared_is_refused(session):
    angle = own_angle(session)
    with pytest.raises(CannotAnswerError, match="falls where the angle of heeldrop rises"):
        compared(session, -angle, lag_s=0.0)
    assert compared(session, -angle, turned=True).root_mean_square_deg == pytest.approx(0, abs=1e-3)
    with pytest.raises(CannotAnswerError, match="known together for less than 10 s"):
        compared(session, np.full(len(angle), np.nan))
    with pytest.raises(CannotAnswerError, match="must have the recording's"):
        compared(session, angle[:-1])
    late = np.concatenate((np.full(250, np.nan), angle[:-250]))
    # another repetition is never taken for the same one
    with pytest.raises(CannotAnswerError, match=r"too unlike the angle|lies further off than the 2 s that were tried"):
        compared(session, late)
    assert compared(session, late, largest_lag_s=6.0).lag.lag_s == pytest.approx(5.0, abs=0.001)
    nowhere = replace(session[0], exercises=())
    with pytest.raises(CannotAnswerError, match="no exercise of the session has sets"):
        compare_with_reference(nowhere, channel(angle))


def test_a_lag_beyond_what_was_tried_is_refused():
    time_s = np.arange(0, 60, 0.02)
    with pytest.raises(CannotAnswerError, match="lies further off than the 2 s that were tried"):
        find_lag(np.sqrt(time_s), np.sqrt(np.maximum(time_s - 3.0, 0)), 50.0, 2.0)


def test_a_lag_needs_no_common_zero_or_rate_of_noise():
    chance = np.random.default_rng(2)
    time_s = np.arange(0, 60, 0.02)
    angle = 15 * np.sin(0.9 * time_s) + 5 * np.sin(2.3 * time_s)
    other = 15 * np.sin(0.9 * (time_s - 0.3)) + 5 * np.sin(2.3 * (time_s - 0.3)) - 40
    noisy = other + chance.normal(0, 0.5, len(time_s))
    assert find_lag(angle, noisy, 50.0, 2.0) == pytest.approx(0.3, abs=0.01)
