"""The options about delimited files reach the reader: the same session as one file a sensor gives the same answer."""

import json

import numpy as np
import pytest


@pytest.fixture(scope="module")
def files(recording, tmp_path_factory):
    """The recording's samples as one file a sensor, in g and deg/s, without units, rate or time stamps."""
    folder = tmp_path_factory.mktemp("delimited")
    samples = np.genfromtxt(recording, delimiter="\t", missing_values="n/a")
    channels = recording.with_name(recording.name.replace("_motion.tsv", "_channels.tsv")).read_text().splitlines()
    names = [line.split("\t")[0] for line in channels[1:]]
    paths = []
    for point in ("shank", "foot"):
        acceleration = [names.index(f"{point}_acc_{axis}") for axis in "xyz"]
        rate = [
            next(at for at, name in enumerate(names) if name.startswith(f"{point}_gyr")) + axis for axis in range(3)
        ]
        table = np.column_stack((samples[:, acceleration] / 9.80665, np.degrees(samples[:, rate])))
        path = folder / f"{point}.csv"
        np.savetxt(path, table, delimiter=";", fmt="%.7f", header="ax;ay;az;gx;gy;gz", comments="")
        path.write_text(path.read_text().replace(".", ","))
        paths.append(path)
    return paths


def words_of(files, *more):
    return ("--proximal-file", files[0], "--distal-file", files[1], *more)


UNITS = ("--accelerometer-unit", "g", "--gyroscope-unit", "deg/s", "--rate", "50")


def test_two_files_give_the_same_answer(run, files, recording, plan):
    code, said, _ = run("analyse", *words_of(files, *UNITS), "--plan", plan, "--json")
    assert code == 0
    delimited = json.loads(said)
    code, said, _ = run("analyse", recording, "--plan", plan, "--json")
    assert code == 0
    bids = json.loads(said)
    assert {each["name"] for each in delimited["provenance"]["inputs"]} >= {"shank.csv", "foot.csv"}
    assert delimited["recorded_at"] is None
    for one, other in zip(delimited["exercises"][0]["sets"], bids["exercises"][0]["sets"], strict=True):
        assert one["verdict"] == other["verdict"]
        assert len(one["repetitions"]) == len(other["repetitions"])
        assert one["past_threshold_s"] == pytest.approx(other["past_threshold_s"], abs=0.2)


def test_separator_and_decimal_sign_can_be_said(run, files, plan):
    said = ("--separator", "semicolon", "--decimal", "comma")
    assert run("analyse", *words_of(files, *UNITS, *said), "--plan", plan)[0] == 0


def test_columns_can_be_said(run, files, plan):
    columns = ("--columns", "acc=ax,ay,az", "--columns", "gyro=gx,gy,gz")
    assert run("analyse", *words_of(files, *UNITS, *columns), "--plan", plan)[0] == 0


@pytest.mark.parametrize("left_out", ["--accelerometer-unit", "--gyroscope-unit", "--rate"])
def test_what_the_files_leave_open_is_asked_for(refused, files, plan, left_out):
    at = UNITS.index(left_out)
    words = UNITS[:at] + UNITS[at + 2 :]
    assert left_out in refused("analyse", *words_of(files, *words), "--plan", plan)


def test_a_wrong_unit_is_noticed(refused, files, plan):
    words = ("--accelerometer-unit", "m/s^2", *UNITS[2:])
    sentence = refused("analyse", *words_of(files, *words), "--plan", plan)
    assert "m/s^2" in sentence or "gravity" in sentence


def test_angle_and_inspect_take_them_too(run, files, tmp_path):
    points = ("--proximal", "shank", "--distal", "foot")
    out = tmp_path / "angle.csv"
    assert run("angle", *words_of(files, *UNITS), *points, "--neutral", "none", "--out", out)[0] == 0
    assert out.read_text().count("\n") > 1000
    code, said, _ = run("inspect", *words_of(files, *UNITS), *points)
    assert code == 0
    assert "2 sensors: shank, foot." in said
