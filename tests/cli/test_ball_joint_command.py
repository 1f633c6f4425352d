"""A hip exercise through the command line, from files: both segments' frames instead of a hinge's axis."""

import importlib.util
import json
import sys
from pathlib import Path

import numpy as np
import pytest

from imu_rom.recording.bids_writing import write_bids_motion
from imu_rom.recording.model import Sensor
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
def recording(tmp_path_factory):
    path = Path(__file__).parents[1] / "motion" / "independent" / "ball.py"
    spec = importlib.util.spec_from_file_location("independent_ball_of_commands", path)
    ball = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = ball
    spec.loader.exec_module(ball)
    session = ball.play(7, ball.Course(exercise="dead lift", left=True, sets=2, repetitions=5, rate_hz=50.0))
    missing = np.zeros(len(session.angles_deg), dtype=bool)
    sensors = [
        Sensor(point, accelerometer, gyroscope, None, missing)
        for point, (accelerometer, gyroscope) in (("pelvis", session.proximal), ("thigh", session.distal))
    ]
    folder = tmp_path_factory.mktemp("hip")
    return write_bids_motion(folder, subject="P0031", task="deadlift", rate_hz=50.0, sensors=sensors)


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
