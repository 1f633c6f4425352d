"""The sample recordings are what their README says: simulated, valid BIDS, small, and with the verdicts named there."""

import contextlib
import io
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from imu_rom_cli import main

SAMPLES = Path(__file__).parents[1] / "sample_recordings"
DATASET = SAMPLES / "dataset"
PROGRAMS = Path(sys.executable).parent
VERDICTS = {
    "P-0001": ["met", "met", "met"],
    "P-0002": ["short", "short"],
    "P-0003": ["over", "over"],
    "P-0004": ["undecided", "undecided"],
    "P-0005": ["met", "met", "met"],
    "P-0006": ["met", "undecided"],
    "P-0007": ["met", "met"],
    "P-0008": ["met", "met"],
}


def files(folder):
    return {each.relative_to(folder).as_posix(): each.read_bytes() for each in folder.rglob("*") if each.is_file()}


def without_version(content):
    return re.sub(rb'"Version": "[^"]*"', b"", content)


def truth_of(patient):
    (path,) = (DATASET / "sourcedata" / "truth").glob(f"sub-{patient.replace('-', '')}_*_truth.json")
    return json.loads(path.read_text("utf-8"))


@pytest.fixture(scope="module")
def results():
    """Result of each session, analysed without a word about the neutral pose."""
    answers = {}
    for patient in VERDICTS:
        recording, plan = DATASET / f"sub-{patient.replace('-', '')}", SAMPLES / "plans" / f"{patient}.toml"
        with contextlib.redirect_stdout(io.TextIOWrapper(io.BytesIO(), "utf-8", write_through=True)) as said:
            assert main(["analyse", str(recording), "--plan", str(plan), "--json"]) == 0
        answers[patient] = json.loads(said.buffer.getvalue())
    return answers


@pytest.mark.parametrize("patient", VERDICTS)
def test_each_session_gets_the_verdict_that_it_was_made_for(results, patient):
    sets = results[patient]["exercises"][0]["sets"]
    assert [each["verdict"] for each in sets] == VERDICTS[patient]
    done = truth_of(patient)["done"]
    assert [len(each["repetitions"]) for each in sets] == [len(each["repetitions"]) for each in done["sets"]]


@pytest.mark.parametrize("patient", VERDICTS)
def test_each_session_is_measured_near_its_truth(results, patient):
    done, sets = truth_of(patient)["done"], results[patient]["exercises"][0]["sets"]
    true = [rep["end_range_deg"] - done["zero_shift_deg"] for each in done["sets"] for rep in each["repetitions"]]
    seen = [rep["end_range_deg"] for each in sets for rep in each["repetitions"]]
    judged = [rep["within_limit"] != "undecided" or patient == "P-0004" for each in sets for rep in each["repetitions"]]
    difference = np.subtract(seen, true)[judged]
    assert np.median(np.abs(difference)) < 1.0
    assert np.abs(difference).max() < 2.5
    zero = results[patient]["exercises"][0]["zero"]
    assert zero["source"] == "auto"
    # the still stretch that was found lies in the pose that was taken
    assert done["pose"]["start_s"] - 3 < zero["start_s"] < zero["stop_s"] < done["pose"]["stop_s"] + 3


def test_only_the_repetitions_in_the_gap_are_undecided(results):
    first, second = results["P-0006"]["exercises"][0]["sets"]
    (gap,) = [each for each in results["P-0006"]["findings"] if each["code"] == "gap"]
    assert all(each["reached"] == "yes" for each in first["repetitions"])
    for each in second["repetitions"]:
        touched = each["start_s"] < gap["stop_s"] and each["stop_s"] > gap["start_s"]
        assert each["reached"] == ("undecided" if touched else "yes")
    assert sum(each["reached"] == "undecided" for each in second["repetitions"]) in {1, 2}


def test_the_slip_is_found_and_the_closing_pose_is_the_new_zero(results):
    (answer,), done = results["P-0007"]["exercises"], truth_of("P-0007")["done"]
    (slip,) = answer["slips"]
    assert slip["time_s"] == pytest.approx(180.0, abs=1.0)
    assert (slip["sensor"], round(slip["size_deg"])) == ("distal", 9)
    (closing,) = done["closing_poses"]
    assert slip["new_zero_s"][0] < closing["stop_s"]
    assert slip["new_zero_s"][1] > closing["start_s"]
    assert not any(results[patient]["exercises"][0]["slips"] for patient in VERDICTS if patient != "P-0007")


def test_the_readme_names_these_sessions_and_verdicts():
    lines = (SAMPLES / "README.md").read_text("utf-8").splitlines()
    table = [line.split("|") for line in lines if "`dataset/sub-" in line]
    assert len(table) == len(VERDICTS)
    for _, recording, plan, _, verdicts, _ in table:
        patient = Path(plan.strip(" `")).stem
        assert recording.strip(" `") == f"dataset/sub-{patient.replace('-', '')}"
        assert set(verdicts.strip().split(", ")) == set(VERDICTS[patient])


def test_recordings_are_small_and_dated_in_december_with_their_offset(results):
    # 6 MB of them are the course: 23 results of 80 kB and two recordings
    assert sum(each.stat().st_size for each in SAMPLES.rglob("*") if each.is_file()) < 24e6
    assert all(re.fullmatch(r"2026-12-0\dT.*\+01:00", each["recorded_at"]) for each in results.values())
    for path in DATASET.rglob("*_motion.json"):
        assert json.loads(path.read_text("utf-8"))["SamplingFrequency"] == 50
    line = next(DATASET.rglob("*P0001*_motion.tsv")).read_text("utf-8").splitlines()[5000]
    assert all(len(cell.split(".")[1]) == 5 for cell in line.split("\t"))


def test_they_say_that_they_are_invented():
    for path in (SAMPLES / "README.md", DATASET / "README.md", *(SAMPLES / "plans").glob("*.toml")):
        assert "nvented" in path.read_text("utf-8")
    assert "Invented" in json.loads((DATASET / "dataset_description.json").read_text("utf-8"))["Acknowledgements"]


def test_the_dataset_is_valid_bids():
    done = subprocess.run([PROGRAMS / "bids-validator-deno", "--json", DATASET], capture_output=True, check=False)
    issues = json.loads(done.stdout)["issues"]["issues"]
    assert [each for each in issues if each["severity"] == "error"] == []
    assert done.returncode == 0


def test_the_script_makes_the_same_bytes_again(tmp_path):
    environment = {**os.environ, "PATH": f"{PROGRAMS}{os.pathsep}{os.environ['PATH']}"}
    words = ["bash", SAMPLES / "make_dataset.sh", tmp_path / "again"]
    subprocess.run(words, check=True, capture_output=True, env=environment)
    again, kept = files(tmp_path / "again"), files(DATASET)
    assert sorted(again) == sorted(kept)
    for name, content in kept.items():
        assert without_version(again[name]) == without_version(content), name


def test_the_check_is_made_again_byte_for_byte(tmp_path):
    script = SAMPLES.parent / "tests" / "motion" / "independent" / "straight_edge.py"
    subprocess.run([sys.executable, script, tmp_path / "edge.csv"], check=True)
    assert (tmp_path / "edge.csv").read_bytes() == (SAMPLES / "checks" / "straight_edge.csv").read_bytes()
