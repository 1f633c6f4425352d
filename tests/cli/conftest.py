"""A short simulated session with its plan, shared by the tests of the commands."""

import os

import pytest

from imu_rom_cli import main

PLAN = """\
[plan]
format = 1
title = "Left heel, into range"
patient = "P-0017"
tendon_site = "achilles insertion"
stage = "into range"

[[stage]]
name = "into range"

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
tempo_s = { eccentric = 2.5, end_range_hold = 2.0, concentric = 1.5, top_pause = 0.6 }
rest_s = 20
start_deg = -25
end_range_deg = [5, 15]
limit_deg = 22
compression_threshold = { deg = 4, basis = "clinician" }
past_threshold_s_per_set = [5, 25]
load = { eccentric = "single leg", concentric = "both legs" }
"""


@pytest.fixture(scope="session")
def plan_text():
    return PLAN


@pytest.fixture(scope="session")
def session_folder(tmp_path_factory):
    """A BIDS dataset with one recording of two sets of five, and its plan beside it."""
    folder = tmp_path_factory.mktemp("session")
    (folder / "plan.toml").write_text(PLAN)
    words = ["simulate", "--plan", str(folder / "plan.toml"), "--seed", "4", "--rate", "50", "--depth-offset", "1"]
    words += ["--recorded-at", "2026-12-03T18:02:11+01:00", "--out", str(folder / "dataset")]
    assert main(words) == 0
    return folder


@pytest.fixture(scope="session")
def recording(session_folder):
    return next((session_folder / "dataset").rglob("*_motion.tsv"))


@pytest.fixture(scope="session")
def plan(session_folder):
    return session_folder / "plan.toml"


@pytest.fixture
def run(capsys):
    """Function that runs the command line: exit code, standard output, standard error."""

    def called(*words):
        code = main([os.fspath(word) for word in words])
        said = capsys.readouterr()
        return code, said.out, said.err

    return called


@pytest.fixture
def refused(run):
    """Function that runs the command line, which must refuse with one sentence; gives the sentence."""

    def called(*words):
        code, out, err = run(*words)
        assert code == 2
        assert out == ""
        assert err.startswith("imu-rom: ")
        assert err.count("\n") == 1
        assert err.endswith(".\n")
        assert "Traceback" not in err
        return err

    return called
