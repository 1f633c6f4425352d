"""A hip exercise through the command line, from files: both segments' frames instead of a hinge's axis."""

import csv
import importlib.util
import json
import sys
from pathlib import Path

import numpy as np
import pytest

from imu_rom.recording.bids_writing import write_bids_motion
from imu_rom.recording.model import Event, Sensor
from imu_rom_cli import main

PLAN = """\
[plan]
format = 1
title = "Left hip, hinging forward"
patient = "P-0031"
tendon_site = "proximal hamstring"

[[stage]]
name = "now"

[[stage.exercise]]
name = "deadlift"
joint = "hip"
motion = "flexion"
side = "left"
proximal = "pelvis"
distal = "thigh"
calibration_movement = "flexion"
sets = 2
repetitions = 5
end_range_deg = {window_deg}
limit_deg = {limit_deg}
"""


@pytest.fixture(scope="module")
def ball():
    path = Path(__file__).parents[1] / "motion" / "independent" / "ball.py"
    spec = importlib.util.spec_from_file_location("independent_ball_of_commands", path)
    ball = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = ball
    spec.loader.exec_module(ball)
    return ball


def written(folder, session, **besides):
    missing = np.zeros(len(session.angles_deg), dtype=bool)
    sensors = [
        Sensor(point, accelerometer, gyroscope, None, missing)
        for point, (accelerometer, gyroscope) in (("pelvis", session.proximal), ("thigh", session.distal))
    ]
    return write_bids_motion(folder, subject="P0031", task="deadlift", rate_hz=50.0, sensors=sensors, **besides)


@pytest.fixture(scope="module")
def recording(ball, tmp_path_factory):
    session = ball.play(7, ball.Course(exercise="dead lift", left=True, sets=2, repetitions=5, rate_hz=50.0))
    return written(tmp_path_factory.mktemp("hip"), session)


@pytest.mark.parametrize(("window_deg", "limit_deg", "within"), [([60, 85], 90, "yes"), ([40, 58], 60, "no")])
def test_a_hip_hinge_is_analysed_from_files(recording, tmp_path, window_deg, limit_deg, within):
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN.format(window_deg=window_deg, limit_deg=limit_deg))
    assert main(["analyse", str(recording), "--plan", str(plan), "--out", str(tmp_path / "result")]) == 0
    (document,) = (tmp_path / "result").glob("*result.json")
    exercise = json.loads(document.read_text())["exercises"][0]
    assert exercise["alignment"]["method"].startswith("segment frames from ")
    repetitions = [each for one in exercise["sets"] for each in one["repetitions"]]
    assert len(repetitions) == 10
    assert {each["within_limit"] for each in repetitions} == {within}
    assert {each["reached"] for each in repetitions} == {"yes"}


def test_the_second_pose_s_time_is_an_option(recording, tmp_path, capsys):
    """Said for a plan that knows no such pose, and said in no such way: one sentence each."""
    plan = tmp_path / "plan.toml"
    plan.write_text(PLAN.format(window_deg=[60, 85], limit_deg=90))
    for text, expected in (("40:44", "the plan has no second_pose for 'deadlift'"), ("44", "must be START:STOP")):
        assert main(["analyse", str(recording), "--plan", str(plan), "--second-pose", text]) == 2
        said = capsys.readouterr()
        assert expected in said.err
        assert not said.out


def test_a_course_and_a_cohort_take_the_poses_from_events(ball, tmp_path, capsys):
    """Nobody is there to name a time: the events beside the recording do, and without them the reason is said."""
    course = ball.Course(exercise="dead lift", left=True, sets=2, repetitions=5, rate_hz=50.0, second_pose=(90, 0, 0))
    session = ball.play(8, course)
    poses = {"neutral pose": session.pose_s, "second pose": session.second_pose_s}
    events = [Event(start_s, stop_s - start_s, name) for name, (start_s, stop_s) in sorted(poses.items())]
    folder = tmp_path / "course"
    motion = written(folder, session, events=events, recorded_at="2026-12-03T18:02:11+01:00")
    plan = folder / "plan.toml"
    text = PLAN.format(window_deg=[60, 85], limit_deg=90).replace('"now"', '"now"\nfrom = 2026-12-01')
    plan.write_text(text.replace('calibration_movement = "flexion"', 'second_pose = { motion = "flexion", deg = 90 }'))
    cohort = ["cohort", str(folder), "--plan", str(plan), "--out", str(tmp_path / "out"), "--workers", "1"]
    assert main(cohort) == 0
    with next((tmp_path / "out" / "tables" / "repetitions").glob("*.csv")).open() as file:
        assert [each["reached"] for each in csv.DictReader(file)] == 10 * ["yes"]
    assert main(["progress", str(folder)]) == 0
    (document,) = (folder / "results").glob("**/result.json")
    exercise = json.loads(document.read_text())["exercises"][0]
    assert (exercise["zero"]["source"], exercise["alignment"]["sign_source"]) == ("events", "second pose")
    # what is taken from a file is no correction by hand: without the file it is asked anew
    motion.with_name(motion.name.replace("_motion", "_events")).unlink()
    capsys.readouterr()
    assert main(["progress", str(folder)]) == 0
    assert "say it by events 'second pose' and 'neutral pose' beside" in " ".join(capsys.readouterr().out.split())
    assert main(cohort) == 0
    failures = (tmp_path / "out" / "tables" / "failures.csv").read_text()
    assert "say it by events 'second pose' and 'neutral pose'" in failures
