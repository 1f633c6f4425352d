"""The whole analysis on exercises of hip and shoulder: repetitions, verdicts, sign, and what is said about them."""

import dataclasses
import importlib.util
import sys
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.dose.exercise import CompressionThreshold, Exercise
from imu_rom.dose.plan import Plan, Stage
from imu_rom.errors import CannotAnswerError
from imu_rom.motion.joint_rotation import motion_angle_deg
from imu_rom.motion.joints import joint_motion
from imu_rom.recording.model import Recording, Sensor
from imu_rom.session import analyse
from imu_rom.session.tracked import turn_middle_deg, within_a_turn_deg

CALIBRATIONS = {
    "dead lift": "flexion",
    "hip hitch": "abduction",
    "row": "flexion",
    "arm raise": "abduction",
    "overhead": "flexion",
}


@pytest.fixture(scope="module")
def ball():
    path = Path(__file__).parents[1] / "motion" / "independent" / "ball.py"
    spec = importlib.util.spec_from_file_location("independent_ball_of_sessions", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def recording_of(session):
    def sensor(point, samples):
        accelerometer, gyroscope = samples
        return Sensor(
            tracked_point=point,
            accelerometer_m_s2=accelerometer,
            gyroscope_rad_s=gyroscope,
            magnetometer_t=None,
            missing=np.zeros(len(gyroscope), dtype=bool),
        )

    return Recording(
        rate_hz=session.rate_hz,
        sensors={"upper": sensor("upper", session.proximal), "lower": sensor("lower", session.distal)},
        label="made up",
        task="exercise",
    )


def plan_of(ball, course, **prescribed):
    joint, motion = ball.EXERCISES[course.exercise].name.split(" ", 1)
    exercise = Exercise(
        name="exercise",
        joint=joint,
        motion=motion,
        side="left" if course.left else "right",
        proximal="upper",
        distal="lower",
        calibration_movement=CALIBRATIONS[course.exercise],
        sets=course.sets,
        repetitions=course.repetitions,
        **prescribed,
    )
    stage = Stage("now", (exercise,), date(2026, 1, 1))
    return Plan(title="made up", tendon_site="proximal hamstring", stages=(stage,), current_stage="now")


def true_ends_deg(session, course, ball):
    joint, motion = ball.EXERCISES[course.exercise].name.split(" ", 1)
    side = "left" if course.left else "right"
    angle = motion_angle_deg(session.relative, joint_motion(joint, motion), side)[0]
    return np.array([angle[round(time_s * session.rate_hz)] for time_s in session.ends_s])


@pytest.mark.parametrize(
    ("exercise", "left", "asked_deg", "limit_deg"),
    [
        ("dead lift", True, (60.0, 85.0), 90.0),
        ("hip hitch", False, (3.0, 22.0), 30.0),
        ("row", True, (30.0, 55.0), 60.0),
        ("arm raise", False, (80.0, 110.0), 120.0),
    ],
)
def test_repetitions_and_verdicts_of_a_session_done_as_prescribed(ball, exercise, left, asked_deg, limit_deg):
    course = ball.Course(exercise=exercise, left=left, sets=2, repetitions=5)
    session = ball.play(300, course)
    result = analyse(
        recording_of(session), plan_of(ball, course, end_range_deg=asked_deg, limit_deg=limit_deg)
    ).exercises[0]
    comparison = result.comparison
    assert [len(one.repetitions) for one in comparison.sets] == [5, 5]
    repetitions = [each for one in comparison.sets for each in one.repetitions]
    off = np.array([each.repetition.end_range_deg for each in repetitions]) - true_ends_deg(session, course, ball)
    assert np.abs(off).max() < 4.0
    assert {each.reached for each in repetitions} == {"yes"}
    assert {each.within_limit for each in repetitions} == {"yes"}
    assert "segment frames from" in result.alignment.method
    assert "neutral pose and one movement" in result.alignment.method
    assert result.alignment.sign_source == "calibration movement"


@pytest.mark.parametrize("left", [False, True])
def test_an_arm_raised_past_straight_up_goes_on_counting(ball, left):
    """A turn's jump at 180 degrees from the neutral pose would make 186 degrees of flexion 174 of extension."""
    course = ball.Course(exercise="overhead", left=left, sets=1, repetitions=5)
    session = ball.play(306, course)
    (one,) = analyse(recording_of(session), plan_of(ball, course)).exercises[0].comparison.sets
    ends_deg = true_ends_deg(session, course, ball)
    assert ends_deg.min() > 181
    assert np.array([each.repetition.end_range_deg for each in one.repetitions]) == pytest.approx(ends_deg, abs=4)


@given(st.floats(-90, 200), st.integers(-3, 3), st.floats(-20, 20), st.sampled_from([1, -1]))
def test_no_angle_that_a_shoulder_can_have_lies_beyond_the_turn(angle_deg, turns, level_deg, factor):
    exercise = Exercise(
        name="overhead", joint="shoulder", motion="flexion", side="left", proximal="upper", distal="lower", sets=1,
        repetitions=1,
    )  # fmt: skip
    tracked = np.radians([factor * angle_deg + level_deg + 360 * turns])
    found = factor * within_a_turn_deg(tracked, np.radians(level_deg), turn_middle_deg(exercise, factor))
    assert found == pytest.approx([angle_deg], abs=1e-6)


def test_a_limit_that_was_passed_is_told(ball):
    course = ball.Course(exercise="dead lift", sets=1, repetitions=5)
    session = ball.play(301, course)
    plan = plan_of(ball, course, limit_deg=45.0, compression_threshold=CompressionThreshold(45.0, "clinician"))
    (one,) = analyse(recording_of(session), plan).exercises[0].comparison.sets
    assert {each.within_limit for each in one.repetitions} == {"no"}


def test_unknown_facing_makes_the_verdict_undecided_and_is_said(ball):
    """Without a step the leaning trunk's front is unseen; the row is then 5 degrees or so unsure."""
    course = ball.Course(exercise="row", walks=False, sets=1, repetitions=5)
    session = ball.play(302, course)
    result = analyse(recording_of(session), plan_of(ball, course, limit_deg=47.0))
    (finding,) = [each for each in result.findings if each.code == "heading-unseen"]
    assert "a few steps after the pose would" in finding.sentence
    (one,) = result.exercises[0].comparison.sets
    assert max(true_ends_deg(session, course, ball)) < 47.0
    assert {each.within_limit for each in one.repetitions} == {"undecided"}


def test_movement_in_other_planes_is_told_with_its_size(ball):
    course = ball.Course(exercise="arm raise", sets=1, repetitions=5)
    session = ball.play(303, course)
    result = analyse(recording_of(session), plan_of(ball, course))
    (finding,) = [each for each in result.findings if each.code == "other-planes"]
    assert "flexion" in finding.sentence
    assert finding.level == "note"


def test_a_movement_that_shows_no_front_is_one_sentence(ball):
    course = ball.Course(exercise="dead lift", sets=1, repetitions=4)
    session = ball.play(304, course)
    plan = plan_of(ball, course)
    exercise = plan.stages[0].exercises[0]
    turned = dataclasses.replace(exercise, calibration_movement="internal rotation")
    plan = dataclasses.replace(plan, stages=(dataclasses.replace(plan.stages[0], exercises=(turned,)),))
    with pytest.raises(CannotAnswerError, match="how the sensors sit on the body"):
        analyse(recording_of(session), plan)
