"""A neutral pose that a person names is checked like one that is found."""

import pytest

from imu_rom.dose.plan_file import read_plan
from imu_rom.errors import CannotAnswerError
from imu_rom.session import analyse
from imu_rom.simulation import Person, routine_from_exercise, simulate_session


@pytest.fixture(scope="module")
def made(request):
    plan = read_plan(request.config.rootpath / "sample_recordings" / "plans" / "P-0001.toml")
    routine = routine_from_exercise(plan.stage.exercises[0], sets=1, repetitions=5, sits_before=False)
    return plan, simulate_session(4, routine, Person(), rate_hz=50.0)


def test_the_true_pose_may_be_named(made):
    plan, session = made
    pose = session.truth.pose
    result = analyse(session.recording, plan, neutral=(pose.start_s + 1, pose.stop_s - 1)).exercises[0]
    assert result.zero.source == "given"
    assert result.comparison.complete == 5


def test_a_table_may_not(made):
    plan, session = made
    with pytest.raises(CannotAnswerError, match="outside the time in which both sensors were worn"):
        analyse(session.recording, plan, neutral=(2.0, 5.0))
    last_s = session.recording.duration_s
    with pytest.raises(CannotAnswerError, match="outside the time in which both sensors were worn"):
        analyse(session.recording, plan, neutral=(last_s - 3.0, last_s - 0.5))


def test_a_movement_may_not(made):
    plan, session = made
    moving = session.truth.calibration
    with pytest.raises(CannotAnswerError, match="the joint moves by"):
        analyse(session.recording, plan, neutral=(moving.start_s, moving.stop_s))


@pytest.mark.parametrize("span", [(-1.0, 3.0), (5.0, 5.05), (9000.0, 9005.0)])
def test_nor_what_is_not_in_the_recording(made, span):
    plan, session = made
    with pytest.raises(CannotAnswerError, match="must lie within the recording"):
        analyse(session.recording, plan, neutral=span)
