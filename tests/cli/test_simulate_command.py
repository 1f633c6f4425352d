"""``imu-rom simulate`` from its options to the files of a dataset."""

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from imu_rom.recording.bids import read_bids_motion
from imu_rom.settings import ReadingSettings
from imu_rom.simulation import SCENARIOS
from imu_rom_cli import main

PLAN = """
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
repetitions = 3
rest_s = 20
start_deg = -25
end_range_deg = [5, 15]
"""


@pytest.fixture(scope="module")
def plan_file(tmp_path_factory):
    path = tmp_path_factory.mktemp("plan") / "plan.toml"
    path.write_text(PLAN)
    return path


def simulate(plan_file, folder, *options):
    return main(["simulate", "--plan", str(plan_file), "--rate", "50", "--out", str(folder), *options])


def files(folder):
    return {each.relative_to(folder).as_posix(): each.read_bytes() for each in folder.rglob("*") if each.is_file()}


@pytest.fixture(scope="module")
def dataset(plan_file, tmp_path_factory):
    folder = tmp_path_factory.mktemp("out") / "dataset"
    first = ("--seed", "3", "--session", "a", "--recorded-at", "2026-12-01T10:00:00+01:00")
    assert simulate(plan_file, folder, *first) == 0
    faults = ("--fault", "gap=foot:40:1.5", "--fault", "dropped_share=0.01")
    assert simulate(plan_file, folder, "--seed", "4", "--session", "b", *faults) == 0
    return folder


def test_reader_gets_back_what_was_simulated(dataset):
    (motion,) = dataset.glob("sub-P0017/ses-a/motion/*_motion.tsv")
    recording = read_bids_motion(motion, ReadingSettings())
    assert (recording.subject, recording.task, recording.rate_hz) == ("P0017", "heeldrop", 50)
    assert recording.recorded_at == "2026-12-01T10:00:00+01:00"
    stem = motion.name.removesuffix("_motion.tsv")
    truth = json.loads((dataset / "sourcedata" / "truth" / f"{stem}_truth.json").read_text())
    angle = np.loadtxt(dataset / "sourcedata" / "truth" / f"{stem}_angle.csv", delimiter=",", skiprows=1)
    assert len(angle) == recording.sample_count
    assert angle[1, 0] == 0.02
    assert [len(each["repetitions"]) for each in truth["done"]["sets"]] == [3, 3]
    deepest = truth["done"]["sets"][0]["repetitions"][0]
    row = round(deepest["end_range_s"] * 50)
    assert angle[row - 2 : row + 3, 1].max() == pytest.approx(deepest["end_range_deg"], abs=0.2)
    assert truth["asked"]["seed"] == 3
    assert "Invented" in truth["note"]


def test_lost_samples_are_missing_in_the_file(dataset):
    (motion,) = dataset.glob("sub-P0017/ses-b/motion/*_motion.tsv")
    recording = read_bids_motion(motion, ReadingSettings())
    assert [(each.tracked_point, each.start_s, each.stop_s) for each in recording.gaps] == [("foot", 39.98, 41.5)]
    assert recording.filled_samples["shank"] == pytest.approx(0.01 * recording.sample_count, rel=0.4)


def test_dataset_says_that_it_is_invented_and_is_valid(dataset):
    assert "Invented" in json.loads((dataset / "dataset_description.json").read_text())["Acknowledgements"]
    assert "Invented" in (dataset / "README.md").read_text()
    assert (dataset / "participants.tsv").read_text() == "participant_id\nsub-P0017\n"
    validator = Path(sys.executable).with_name("bids-validator-deno")
    done = subprocess.run([validator, "--json", str(dataset)], capture_output=True, check=False, text=True)
    issues = json.loads(done.stdout)["issues"]["issues"]
    assert [each for each in issues if each["severity"] == "error"] == []
    assert done.returncode == 0


def test_same_options_write_the_same_bytes(plan_file, dataset, tmp_path):
    options = ("--seed", "3", "--session", "a", "--recorded-at", "2026-12-01T10:00:00+01:00")
    assert simulate(plan_file, tmp_path / "again", *options) == 0
    again, first = files(tmp_path / "again"), files(dataset)
    assert len(again) == 10
    assert {name: first[name] for name in again} == again
    assert simulate(plan_file, tmp_path / "other", "--seed", "5", "--session", "a") == 0
    motion = next(name for name in again if name.endswith("_motion.tsv"))
    assert files(tmp_path / "other")[motion] != again[motion]


def test_doubled_rows_are_written_with_their_stamps(plan_file, tmp_path):
    assert simulate(plan_file, tmp_path / "out", "--fault", "doubled_share=0.02") == 0
    (motion,) = (tmp_path / "out").rglob("*_motion.tsv")
    rows = np.loadtxt(motion, delimiter="\t")
    doubled = np.flatnonzero(np.diff(rows[:, 0]) == 0)
    assert len(doubled) == pytest.approx(0.02 * len(rows), rel=0.3)
    assert np.array_equal(rows[doubled], rows[doubled + 1])


def test_options_by_name_reach_the_simulation(plan_file, tmp_path):
    options = ("--scenario", "zero-off", "--depth-offset", "-4", "--routine", "set_repetitions=[2, 1]")
    options += ("--person", "wobble_deg=0", "--sensor-errors", "gyroscope_bias_deg_s=1")
    assert simulate(plan_file, tmp_path / "out", *options) == 0
    (path,) = (tmp_path / "out").rglob("*_truth.json")
    truth = json.loads(path.read_text())
    asked = truth["asked"]
    assert asked["person"]["zero_shift_mean_deg"] == 3
    assert asked["person"]["wobble_deg"] == 0
    assert asked["routine"]["end_range_deg"] == 10 - 4
    assert asked["sensor_errors"]["gyroscope_bias_deg_s"] == 1
    assert [len(each["repetitions"]) for each in truth["done"]["sets"]] == [2, 1]


@pytest.mark.parametrize(
    ("options", "sentence"),
    [
        (("--scenario", "nope"), "--scenario: must be one of usual, partial, fast,"),
        (("--rate", "5"), "simulated rate_hz: must lie in 20 to 1000 Hz, got 5.0."),
        (("--exercise", "squat"), "exercise must be one of heeldrop (stage 'into range'), got 'squat'"),
        (("--fault", "gap=foot:x:1"), "--fault gap: must be POINT:START:LENGTH in seconds, got 'foot:x:1'."),
        (("--fault", "stop=foot"), "--fault stop: must be POINT:TIME in seconds, got 'foot'."),
        (("--fault", "gap=arm:1:1"), "fault: no sensor on 'arm'; there are shank, foot."),
        (("--fault", "dust=1"), "--fault: unknown name 'dust'; there are gap, stop, slip, creep, clock,"),
        (("--fault", "dust"), "--fault: must be NAME=VALUE, got 'dust'."),
        (("--person", "wobble_deg=much"), "--person wobble_deg: must be a number, got 'much'."),
        (("--person", "wobble_deg=-1"), "simulated person wobble_deg: must be 0 or more, got -1."),
        (("--person", "locked_share=[1]"), "simulated person locked_share: must be two numbers, got (1,)."),
        (("--routine", "sets=2.5"), "--routine sets: must be a whole number, got '2.5'."),
        (("--routine", "joint=elbow"), "simulated routine: joint must be ankle or knee, got 'elbow'."),
        (("--recorded-at", "today"), "recorded_at must be an RFC 3339 time with offset, got 'today'."),
    ],
)
def test_what_cannot_be_done_is_said_in_one_sentence_and_writes_nothing(plan_file, tmp_path, capsys, options, sentence):
    assert simulate(plan_file, tmp_path / "out", *options) == 2
    said = capsys.readouterr().err
    assert sentence in said
    assert said.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_existing_recording_and_foreign_folder_are_left_alone(plan_file, dataset, tmp_path, capsys):
    before = files(dataset)
    assert simulate(plan_file, dataset, "--seed", "9", "--session", "a") == 2
    assert "the recording exists already" in capsys.readouterr().err
    assert files(dataset) == before
    assert {each.name for each in dataset.parent.iterdir()} == {"dataset"}
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "notes.txt").write_text("mine")
    assert simulate(plan_file, tmp_path / "mine") == 2
    assert "exists and is no simulated dataset; name another folder." in capsys.readouterr().err
    assert files(tmp_path / "mine") == {"notes.txt": b"mine"}


def test_help_lists_every_scenario(capsys):
    assert main(["simulate", "--help"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    listed = said.split("Scenarios: ")[1].split(". ")[0].replace(" ", "").split(",")
    assert sorted(listed) == sorted(SCENARIOS)


TWO_STAGES = PLAN.replace('stage = "into range"\n', "", 1).replace(
    '[[stage]]\nname = "into range"\n', '[[stage]]\nname = "into range"\nfrom = 2026-12-01\n'
) + PLAN.split("[[stage]]")[1].replace('name = "into range"', '[[stage]]\nname = "later"\nfrom = 2026-12-15').replace(
    '"heeldrop"', '"deepdrop"'
)


@pytest.mark.parametrize(
    ("options", "task"),
    [
        (("--recorded-at", "2026-12-14T18:00:00+01:00"), "heeldrop"),
        (("--recorded-at", "2026-12-15T18:00:00+01:00"), "deepdrop"),
        (("--recorded-at", "2026-12-14T18:00:00+01:00", "--stage", "later"), "deepdrop"),
        ((), "heeldrop"),
    ],
)
def test_the_stage_is_the_one_of_the_day_or_the_one_named(tmp_path, options, task):
    plan = tmp_path / "plan.toml"
    plan.write_text(TWO_STAGES)
    assert simulate(plan, tmp_path / "out", "--seed", "1", *options) == 0
    assert list((tmp_path / "out").rglob(f"*_task-{task}_*_motion.tsv"))


def test_an_unknown_stage_is_said(plan_file, tmp_path, capsys):
    assert simulate(plan_file, tmp_path / "out", "--stage", "last") == 2
    assert "--stage: must be one of into range, got 'last'." in capsys.readouterr().err
