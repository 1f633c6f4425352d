"""BIDS derivatives: the validator finds nothing, and the angle and its events read back to the last digit."""

import json
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from imu_rom.errors import OutputError, RecordingError, ResultError
from imu_rom.exchange.angle_file import read_angle_file
from imu_rom.exchange.bids_derivative import write_bids_derivative
from imu_rom.exchange.bids_derivative_reading import read_bids_angle
from imu_rom.exchange.bids_names import bids_names
from imu_rom.exchange.deidentify import deidentified
from imu_rom.exchange.exported import Exported
from imu_rom.exchange.tidy_tables import tidy_tables

from .conftest import HOSTILE


def errors_of(folder):
    """Errors of the dataset and of all derivatives in it, by place and code."""
    beside_python = Path(sys.executable).with_name("bids-validator-deno")
    program = beside_python if beside_python.exists() else shutil.which("bids-validator-deno")
    assert program is not None, "bids-validator-deno belongs to the test extra"
    words = [str(program), str(folder), "-r", "--max-rows", "-1", "--format", "json"]
    answer = json.loads(subprocess.run(words, capture_output=True, text=True, check=False).stdout)
    inner = answer["derivativesSummary"]
    assert list(inner) == ["/derivatives/imu_rom/"], "the validator did not look into the derivatives"
    found = {"/": answer, **inner}
    return {
        (place, each["code"], each.get("location"))
        for place, said in found.items()
        for each in said["issues"]["issues"]
        if each["severity"] == "error"
    }


@pytest.fixture(params=["exported", "two_exercises"])
def whole(request):
    return request.getfixturevalue(request.param)


def motion_of(folder):
    (motion,) = folder.rglob("*_motion.tsv")
    return motion


def test_the_validator_finds_no_error(whole, tmp_path):
    write_bids_derivative(whole, tmp_path / "out")
    assert errors_of(tmp_path / "out") == set()
    names = [each.name for each in (tmp_path / "out").rglob("*")]
    assert not [name for name in names if "desc-" in name]
    description = json.loads((tmp_path / "out" / "derivatives" / "imu_rom" / "dataset_description.json").read_text())
    assert description["DatasetType"] == "derivative"
    assert description["GeneratedBy"][0]["Name"] == "imu-rom"


@pytest.mark.parametrize(
    ("end", "old", "new", "code"),
    [
        ("_channels.tsv", "JNTANG", "JOINT", "TSV_VALUE_INCORRECT_TYPE"),
        ("_channels.tsv", "latency\tn/a\tLATENCY\tn/a\ts\tTime from the recording's start\n", "", "TSV_EQUAL_ROWS"),
        ("_events.tsv", "onset", "start", "TSV_COLUMN_MISSING"),
    ],
)
def test_the_validator_would_see_a_fault_in_the_derivative(exported, tmp_path, end, old, new, code):
    write_bids_derivative(exported, tmp_path / "out")
    motion = motion_of(tmp_path / "out")
    file = motion.with_name(motion.name.replace("_motion.tsv", end))
    text = file.read_text()
    assert old in text
    file.write_text(text.replace(old, new, 1))
    assert {each[:2] for each in errors_of(tmp_path / "out")} == {("/derivatives/imu_rom/", code)}


def test_the_sidecar_has_what_the_standard_requires(exported, tmp_path):
    # the validator asks it of raw recordings only
    write_bids_derivative(exported, tmp_path / "out")
    motion = motion_of(tmp_path / "out")
    said = json.loads(motion.with_name(motion.name.replace("_motion.tsv", "_motion.json")).read_text())
    columns = len(motion.read_text().splitlines()[0].split("\t"))
    assert (said["TaskName"], said["SamplingFrequency"]) == ("heeldrop", 50)
    assert said["JNTANGChannelCount"] + said["LATENCYChannelCount"] + said["MISCChannelCount"] == columns
    assert said["MotionChannelCount"] == columns


def test_the_angle_reads_back(whole, tmp_path):
    write_bids_derivative(whole, tmp_path / "out")
    read = read_bids_angle(motion_of(tmp_path / "out"))
    (result,) = whole.results
    angle = read_angle_file(result.angle_file, result.document)
    assert read.rate_hz == result.document.recording.rate_hz
    assert np.array_equal(read.time_s, angle.trace.time_s)
    assert len(read.angles_deg) == len(result.document.exercises)
    for part, (name, values) in enumerate(read.angles_deg.items()):
        own = angle.part == part
        assert np.array_equal(values[own], angle.trace.angle_deg[own])
        assert np.isnan(values[~own]).all()
        for end, kept in (
            ("_uncertainty", angle.trace.standard_uncertainty_deg),
            ("_shared_uncertainty", angle.trace.zero_standard_uncertainty_deg),
        ):
            assert np.array_equal(read.uncertainties_deg[name + end][own], kept[own])


def test_events_are_the_rows_of_the_tables(whole, tmp_path):
    write_bids_derivative(whole, tmp_path / "out")
    read = read_bids_angle(motion_of(tmp_path / "out"))
    tables = {each.layout.name: each.rows for each in tidy_tables(whole)}
    for kind, name in (("set", "sets"), ("repetition", "repetitions")):
        events = [each for each in read.events if each["trial_type"] == kind]
        assert len(events) == len(tables[name]) > 0
        for event, row in zip(events, tables[name], strict=True):
            assert event["onset"] == row["start_s"]
            assert event["onset"] + event["duration"] == pytest.approx(row["stop_s"], abs=1e-9)
            told = {key: value for key, value in event.items() if value is not None and key in row}
            assert {"part", "exercise", "set", "past_threshold_s", "past_threshold_high_s"} <= set(told)
            assert told == {key: row[key] for key in told}
    onsets = [each["onset"] for each in read.events]
    assert onsets == sorted(onsets)
    assert "neutral pose" in {each["trial_type"] for each in read.events}


def test_the_events_sidecar_says_each_column(exported, tmp_path):
    write_bids_derivative(exported, tmp_path / "out")
    (events,) = (tmp_path / "out").rglob("*_events.tsv")
    heading = events.read_text().splitlines()[0].split("\t")
    said = json.loads(events.with_suffix(".json").read_text())
    assert list(said) == heading[2:]
    assert said["end_range_deg"]["Units"] == "deg"


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_names_stay_text(exported, text, tmp_path):
    (result,) = exported.results
    document = result.document
    (answer,) = document.exercises
    document = replace(
        document,
        plan_title=text,
        patient=text,
        bids_subject=None,
        recording=replace(document.recording, label=text, task=text, subject=text),
        exercises=(replace(answer, exercise=replace(answer.exercise, name=text)),),
    )
    write_bids_derivative(Exported((replace(result, session=text, document=document),)), tmp_path / "out")
    motion = motion_of(tmp_path / "out")
    assert motion.name.isascii()
    assert len(motion.name) < 200
    events = [each for each in read_bids_angle(motion).events if each["trial_type"] == "set"]
    assert [each["exercise"] for each in events] == [" ".join(text.split())] * len(events)
    for path in motion.parent.glob("*.tsv"):
        for line in path.read_text().splitlines():
            for cell in line.split("\t"):
                # numbers may begin with a minus
                assert cell[:1] not in "=+@" or not cell
                assert not cell.startswith("-") or float(cell)


def test_a_deidentified_derivative_is_valid(exported, tmp_path):
    out = deidentified(exported)
    write_bids_derivative(out, tmp_path / "out")
    assert errors_of(tmp_path / "out") == set()
    assert "2026" not in "".join(path.read_text() for path in (tmp_path / "out").rglob("*_scans.tsv"))


def test_names_are_those_of_the_recording_and_never_two_alike(exported):
    (result,) = exported.results

    def labelled(*labels):
        document = result.document
        recordings = [replace(document.recording, label=label) for label in labels]
        return [replace(result, session=one.label, document=replace(document, recording=one)) for one in recordings]

    def stems(*labels):
        return [each.stem for each in bids_names(labelled(*labels))]

    bids = "sub-P0017_ses-03_task-heeldrop_tracksys-imu_run-02"
    assert stems(bids) == [bids]
    assert stems("sub-P0017_task-heeldrop_tracksys-shank + sub-P0017_task-heeldrop_tracksys-foot") == [
        "sub-P0017_task-heeldrop_tracksys-shank"
    ]
    assert stems("anything at all") == ["sub-P0017_task-heeldrop_tracksys-imu"]
    assert stems("a b", "A-B", "🦶", "") == [
        "sub-P0017_ses-ab_task-heeldrop_tracksys-imu",
        "sub-P0017_ses-AB_task-heeldrop_tracksys-imu_run-01",
        "sub-P0017_ses-unnamed_task-heeldrop_tracksys-imu",
        "sub-P0017_ses-unnamed_task-heeldrop_tracksys-imu_run-01",
    ]


def test_without_samples_nothing_is_written(exported_course, tmp_path):
    with pytest.raises(ResultError, match=r"no result has an angle\.csv"):
        write_bids_derivative(exported_course, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_derivatives_of_others_are_not_replaced(exported, tmp_path):
    out = tmp_path / "out"
    write_bids_derivative(exported, out)
    write_bids_derivative(exported, out, overwrite=True)
    (out / "derivatives" / "other").mkdir()
    with pytest.raises(OutputError, match="'other', which is of another program"):
        write_bids_derivative(exported, out, overwrite=True)
    assert (out / "derivatives" / "other").is_dir()


@pytest.mark.parametrize(
    ("end", "old", "new", "said"),
    [
        ("_channels.tsv", "JNTANG", "MISC", "at least one JNTANG channel"),
        ("_channels.tsv", "\tdeg\tAngle", "\trad\tAngle", "units must be deg, got 'rad'"),
        ("_events.tsv", "\trepetition\t1\t", "\trepetition\tone\t", "part must be a whole number, got 'one'"),
        ("_motion.tsv", "0.0200", "x", "got 'x'"),
    ],
)
def test_faults_are_named(exported, tmp_path, end, old, new, said):
    write_bids_derivative(exported, tmp_path / "out")
    motion = motion_of(tmp_path / "out")
    file = motion.with_name(motion.name.replace("_motion.tsv", end))
    text = file.read_text()
    assert old in text
    file.write_text(text.replace(old, new, 1))
    with pytest.raises(RecordingError, match=said):
        read_bids_angle(motion)
