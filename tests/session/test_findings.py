"""What the analysis noticed stands beside its answer."""

from dataclasses import replace

from imu_rom.dose.plan_file import read_plan
from imu_rom.motion import pose as pose_module
from imu_rom.session import analyse
from imu_rom.simulation import Person, routine_from_exercise, simulate_session

MOUNTING = {"shank": "z outward, x up", "foot": "z up, x forward"}


def test_a_pose_that_no_calibration_movement_follows_is_said(request, monkeypatch):
    plan = read_plan(request.config.rootpath / "sample_recordings" / "plans" / "P-0001.toml")
    routine = routine_from_exercise(
        plan.stage.exercises[0],
        sets=1,
        repetitions=6,
        sits_before=False,
        proximal_mounting=MOUNTING["shank"],
        distal_mounting=MOUNTING["foot"],
    )
    session = simulate_session(3, routine, Person(), rate_hz=50.0)
    exercise = replace(plan.stage.exercises[0], mounting=MOUNTING)
    declared = replace(plan, stages=(replace(plan.stage, exercises=(exercise,)),))
    assert "pose-unconfirmed" not in {each.code for each in analyse(session.recording, declared).findings}
    pose = session.truth.pose
    named = analyse(session.recording, declared, neutral=(pose.start_s + 1, pose.stop_s - 1))
    assert "pose-unconfirmed" not in {each.code for each in named.findings}

    # as if the person had left the movement out
    monkeypatch.setattr(pose_module, "find_calibration", lambda *_: None)
    without = analyse(session.recording, declared)
    (finding,) = [each for each in without.findings if each.code == "pose-unconfirmed"]
    assert finding.level == "caution"
    assert abs(finding.start_s - pose.start_s) < 4.0
    assert without.exercises[0].alignment.sign_source == "plan mounting"
