"""Two known poses in the place of a calibration movement: hip and shoulder, both sides, and poses that are none."""

import dataclasses
import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

from imu_rom.dose.exercise import Exercise, SecondPose
from imu_rom.dose.plan import Plan, Stage
from imu_rom.errors import CannotAnswerError
from imu_rom.motion.ball_frames import KnownPose
from imu_rom.motion.joint_rotation import motion_angle_deg
from imu_rom.motion.joints import joint_motion
from imu_rom.recording.model import Event, Recording, Sensor
from imu_rom.session import analyse

LEVEL = SecondPose("flexion", 90.0)
POSES = {
    "dead lift": (LEVEL, (90.0, 0.0, 0.0)),
    "hip hitch": (LEVEL, (90.0, 0.0, 0.0)),
    "row": (LEVEL, (90.0, 0.0, 0.0)),
    "arm raise": (SecondPose("abduction", 60.0), (0.0, -60.0, 0.0)),
}


@pytest.fixture(scope="module")
def ball():
    path = Path(__file__).parents[1] / "motion" / "independent" / "ball.py"
    spec = importlib.util.spec_from_file_location("independent_ball_of_second_poses", path)
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def recording_of(session):
    missing = np.zeros(len(session.angles_deg), dtype=bool)
    pairs = {"upper": session.proximal, "lower": session.distal}
    sensors = {point: Sensor(point, force, rate, None, missing) for point, (force, rate) in pairs.items()}
    return Recording(rate_hz=session.rate_hz, sensors=sensors, label="made up", task="exercise")


def plan_of(ball, course, **prescribed):
    joint, motion = ball.EXERCISES[course.exercise].name.split(" ", 1)
    exercise = Exercise(
        name="exercise", joint=joint, motion=motion, side="left" if course.left else "right", proximal="upper",
        distal="lower", sets=course.sets, repetitions=course.repetitions,
        **{"second_pose": POSES[course.exercise][0], **prescribed},
    )  # fmt: skip
    return Plan("made up", "proximal hamstring", (Stage("now", (exercise,)),), "now")


@pytest.fixture(scope="module")
def sitting(ball):
    course = ball.Course(exercise="dead lift", sets=1, repetitions=4, rate_hz=50.0, second_pose=POSES["dead lift"][1])
    return course, ball.play(310, course)


@pytest.mark.parametrize("upside_down", [False, True])
@pytest.mark.parametrize(("exercise", "left"), [(name, left) for name in POSES for left in (False, True)])
def test_end_ranges_and_sign_follow_from_two_poses_alone(ball, exercise, left, upside_down):
    course = ball.Course(
        exercise=exercise, left=left, sets=1, repetitions=5, second_pose=POSES[exercise][1], upside_down=upside_down
    )
    session = ball.play(300, course)
    result = analyse(
        recording_of(session), plan_of(ball, course), neutral=session.pose_s, second_pose=session.second_pose_s
    ).exercises[0]
    assert "two known poses" in result.alignment.method
    assert result.alignment.sign_source == "second pose"
    joint, motion = ball.EXERCISES[exercise].name.split(" ", 1)
    true_deg = motion_angle_deg(session.relative, joint_motion(joint, motion), "left" if left else "right")[0]
    (one,) = result.comparison.sets
    # the second pose itself is no repetition
    ends_deg = [float(true_deg[round(time_s * session.rate_hz)]) for time_s in session.ends_s]
    assert [each.repetition.end_range_deg for each in one.repetitions] == pytest.approx(ends_deg, abs=4)


def test_events_say_when_both_poses_were_held(ball, sitting):
    course, session = sitting
    plan = plan_of(ball, course)
    poses = {"neutral pose": session.pose_s, "second pose": session.second_pose_s}
    held = [Event(start_s, stop_s - start_s, name) for name, (start_s, stop_s) in sorted(poses.items())]
    others = [Event(1.0, 2.0, "neutral pose", "left"), Event(3.0, 2.0, "second pose", "left")]
    by_events = analyse(dataclasses.replace(recording_of(session), events=(*others, *held)), plan)
    asked = analyse(recording_of(session), plan, neutral=session.pose_s, second_pose=session.second_pose_s)
    assert not [each for each in by_events.findings if each.code == "event-unknown"]
    (answer,), (expected,) = by_events.exercises, asked.exercises
    assert (answer.zero.source, expected.zero.source) == ("events", "given")
    assert dataclasses.replace(answer.zero, source="given") == expected.zero
    assert answer.alignment.sign_source == "second pose"
    np.testing.assert_array_equal(answer.trace.angle_deg, expected.trace.angle_deg)
    # the user goes before the events
    elsewhere = dataclasses.replace(recording_of(session), events=(Event(0.0, 2.0, "neutral pose"), held[1]))
    (corrected,) = analyse(elsewhere, plan, neutral=session.pose_s).exercises
    assert corrected.zero == expected.zero


def test_an_event_about_a_pose_that_the_plan_does_not_know_is_left_alone(ball, sitting):
    course, session = sitting
    prescribed = {"second_pose": None, "calibration_movement": None}
    event = Event(session.second_pose_s[0], 4.0, "second pose")
    recording = dataclasses.replace(recording_of(session), events=(event,))
    with pytest.raises(CannotAnswerError, match="neither a declared mounting nor a calibration movement tells it"):
        analyse(recording, plan_of(ball, course, **prescribed))


def test_a_segment_sees_the_sky_where_it_was_turned_to():
    """A level thigh, knee ahead: the sky is at its front. An arm out to the right: at its outer side."""
    assert KnownPose.turned((0, 1), (0, 0, 1), 90.0, 5.0).up == pytest.approx([1, 0, 0], abs=1e-12)
    outwards = joint_motion("shoulder", "abduction").axis("right")
    assert KnownPose.turned((0, 1), outwards, 90.0, 5.0).up == pytest.approx([0, 0, 1], abs=1e-12)
    outwards = joint_motion("shoulder", "abduction").axis("left")
    assert KnownPose.turned((0, 1), outwards, 90.0, 5.0).up == pytest.approx([0, 0, -1], abs=1e-12)


def test_what_is_no_such_pose_is_refused(ball, sitting):
    course, session = sitting
    recording, plan = recording_of(session), plan_of(ball, course)
    start_s, stop_s = session.second_pose_s

    def refusal(span_s, prescribed=plan):
        with pytest.raises(CannotAnswerError) as caught:
            analyse(recording, prescribed, neutral=session.pose_s, second_pose=span_s)
        return str(caught.value)

    assert "must lie within the time in which both sensors were worn" in refusal((start_s, start_s + 0.1))
    assert "must lie within the time in which both sensors were worn" in refusal((9000.0, 9010.0))
    assert "the limb tilts by" in refusal((start_s - 2.5, stop_s))
    assert "is inclined by 89 deg from the neutral pose, and the plan's second pose is 45 deg of flexion" in refusal(
        (start_s, stop_s), plan_of(ball, course, second_pose=SecondPose("flexion", 45.0))
    )
    assert "the plan has no second_pose for 'exercise'" in refusal(
        (start_s, stop_s), plan_of(ball, course, second_pose=None)
    )


def test_its_time_and_that_of_the_neutral_pose_must_be_said(ball, sitting):
    course, session = sitting
    recording, plan = recording_of(session), plan_of(ball, course)
    with pytest.raises(CannotAnswerError, match="--second-pose START:STOP"):
        analyse(recording, plan, neutral=session.pose_s)
    with pytest.raises(CannotAnswerError, match="name it by --neutral START:STOP"):
        analyse(recording, plan, second_pose=session.second_pose_s)


def test_a_pose_taken_less_exactly_leaves_the_frame_less_sure(ball, sitting):
    course, session = sitting
    found = [
        analyse(
            recording_of(session),
            plan_of(ball, course, second_pose=dataclasses.replace(LEVEL, uncertainty_deg=spread)),
            neutral=session.pose_s,
            second_pose=session.second_pose_s,
        ).exercises[0].alignment.axis_standard_uncertainty_deg
        for spread in (3.0, 12.0)
    ]  # fmt: skip
    assert found[0] < 5.0
    assert found[1] >= 12.0
