"""``imu-rom angle``: a table on standard output or in a file, and what it is."""

import csv
import io
import subprocess
import sys
from pathlib import Path

import pytest

WORDS = ("--proximal", "shank", "--distal", "foot")
LUNGE = Path(__file__).parents[2] / "sample_recordings" / "dataset" / "sub-P0008"
COLUMNS = ["time_s", "angle_deg", "standard_uncertainty_deg", "zero_standard_uncertainty_deg"]


@pytest.fixture
def run_to_bytes(capfdbinary):
    from imu_rom_cli import main

    def called(*words):
        code = main([str(word) for word in words])
        said = capfdbinary.readouterr()
        return code, said.out.decode(), said.err.decode()

    return called


def test_the_table_goes_to_standard_output_and_the_talk_beside_it(run_to_bytes, recording):
    code, table, talk = run_to_bytes("angle", recording, *WORDS)
    assert code == 0
    rows = list(csv.DictReader(io.StringIO(table)))
    assert list(rows[0]) == COLUMNS
    assert [row["time_s"] for row in rows[:3]] == ["0.0000", "0.0200", "0.0400"]
    assert "Its zero is the neutral pose from " in talk
    assert "Its sign is arbitrary" in talk
    assert "never tissue load" in talk


def test_without_a_pose_zero_and_sign_are_said_to_be_arbitrary(run, recording, tmp_path):
    path = tmp_path / "angle.csv"
    code, said, talk = run("angle", recording, *WORDS, "--neutral", "none", "--out", path)
    assert (code, talk) == (0, f"Written to {path}.\n")
    assert "Its zero is arbitrary" in said
    assert "Its sign is arbitrary" in said
    with path.open(newline="") as file:
        rows = list(csv.DictReader(file))
    # of an arbitrary zero nothing is uncertain; only what follows the angle is left
    near = [float(row["zero_standard_uncertainty_deg"]) for row in rows if abs(float(row["angle_deg"])) < 1]
    assert 0 <= max(near) < 0.1
    assert all(row["angle_deg"] for row in rows)


def test_its_own_table_is_replaced_and_nothing_else(run, refused, recording, tmp_path):
    path = tmp_path / "angle.csv"
    assert run("angle", recording, *WORDS, "--out", path)[0] == 0
    first = path.read_bytes()
    assert run("angle", recording, *WORDS, "--out", path)[0] == 0
    assert path.read_bytes() == first
    before = recording.read_bytes()
    assert "can't be replaced" in refused("angle", recording, *WORDS, "--out", recording)
    assert recording.read_bytes() == before
    path.write_text("my notes")
    assert "of another kind" in refused("angle", recording, *WORDS, "--out", path)
    assert path.read_text() == "my notes"


def test_a_wrong_point_or_word_is_one_sentence(refused, recording, tmp_path):
    sentence = refused("angle", recording, "--proximal", "thigh", "--distal", "foot")
    assert "'thigh'" in sentence
    assert "shank" in sentence
    assert "missing option '--distal'" in refused("angle", recording, "--proximal", "shank")
    assert "must be auto, none or START:STOP" in refused("angle", recording, *WORDS, "--neutral", "soon")
    assert "there is no folder" in refused("angle", recording, *WORDS, "--out", tmp_path / "no" / "a.csv")


def test_a_reader_that_stops_early_is_no_error(recording):
    code = "import sys; from imu_rom_cli import main; sys.exit(main())"
    words = [sys.executable, "-c", code, "angle", str(recording), *WORDS]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        assert process.stdout.read(10) == "time_s,ang"
        process.stdout.close()
        talk = process.stderr.read()
        assert process.wait(timeout=60) == 0
    assert "Traceback" not in talk
    assert "Exception" not in talk


def test_one_sensor_is_named_by_leaving_the_other_out(capsys, request):
    from imu_rom_cli import main

    folder = request.config.rootpath / "sample_recordings" / "dataset" / "sub-P0008"
    assert main(["angle", str(folder), "--proximal", "shank", "--distal", "none"]) == 0
    said = capsys.readouterr().err
    assert said.startswith("Angle of shank alone: ")
    assert "only while the segment without a sensor keeps still" in said
    assert main(["angle", str(folder), "--proximal", "none", "--distal", "none"]) == 2
    assert "--proximal and --distal can't both be none" in capsys.readouterr().err
    assert main(["angle", str(folder), "--proximal", "shank", "--distal", "foot"]) == 2
    assert "foot" in capsys.readouterr().err


def test_one_sensor_is_not_two(refused, recording):
    said = refused("angle", recording, "--proximal", "shank", "--distal", "shank")
    assert "--proximal and --distal must be two sensors, got 'shank' for both" in said


def test_a_sensor_that_is_not_there_is_answered_with_those_that_are(refused, recording):
    said = refused("angle", recording, "--proximal", "shank", "--distal", "hand")
    assert said.endswith("no sensor on 'hand'; the recording has foot, shank; name one of these in its place.\n")


def test_two_clocks_take_two_sensors(refused):
    words = ("--proximal", "shank", "--distal", "none", "--clocks", "separate")
    said = refused("angle", LUNGE, *words)
    assert "separate clocks are told for two sensors, got 1 (shank); name the files of two sensors, or leave" in said
