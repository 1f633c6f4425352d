"""``imu-rom repetitions``: sets, repetitions and tempo from one sensor."""

import csv
import io
import json

import numpy as np
import pytest


def test_it_counts_and_times_what_one_sensor_shows(run, recording):
    code, said, talk = run("repetitions", recording, "--sensor", "foot")
    assert (code, talk) == (0, "")
    assert said.startswith("The foot sensor shows ")
    assert "no joint angle" in said
    assert "Walking, not counted" in said
    assert "diagnoses nothing" in said
    # as prescribed: two sets of five, 2.5 s out, 1.5 s back
    sets = [line.split() for line in said.split("\n\n")[1].splitlines() if line.strip()[:1].isdigit()]
    of_the_exercise = [row for row in sets if float(row[-6]) > 5.0]
    assert len(of_the_exercise) == 2
    for row in of_the_exercise:
        assert float(row[-5]) == pytest.approx(2.5, abs=0.6)
        assert float(row[-3]) == pytest.approx(1.5, abs=0.6)


def test_files_for_other_programs_say_the_same(run, recording, tmp_path):
    table, document = tmp_path / "repetitions.csv", tmp_path / "repetitions.json"
    code, _, talk = run("repetitions", recording, "--sensor", "foot", "--csv", table, "--json", document)
    assert code == 0
    assert str(table) in talk
    assert str(document) in talk
    rows = list(csv.DictReader(io.StringIO(table.read_text())))
    whole = json.loads(document.read_text())
    assert whole["sensor"] == "foot"
    assert len(whole["files"][0]["sha256"]) == 64
    assert [len(each["repetitions"]) for each in whole["sets"]] == [each["count"] for each in whole["sets"]]
    assert len(rows) == sum(each["count"] for each in whole["sets"])
    for row in rows:
        same = whole["sets"][int(row["set"]) - 1]["repetitions"][int(row["repetition"]) - 1]
        assert float(row["start_s"]) == same["start_s"]
        assert (row["out_s"] or None) == (None if same["out_s"] is None else str(same["out_s"]))
        if same["duration_s"] is not None:
            assert same["duration_s"] == pytest.approx(same["out_s"] + same["hold_s"] + same["back_s"], abs=0.002)
    for each in whole["sets"]:
        assert each["least"] <= each["count"] <= each["most"]
    # once more over its own files, never over another one
    assert run("repetitions", recording, "--sensor", "foot", "--csv", table, "--json", document)[0] == 0


def test_no_other_file_is_replaced(refused, recording, tmp_path):
    other = tmp_path / "diary.csv"
    other.write_text("pain\n3\n")
    assert "is of another kind" in refused("repetitions", recording, "--sensor", "foot", "--csv", other)
    assert other.read_text() == "pain\n3\n"


def test_the_sensor_must_be_clear(refused, recording):
    assert "--sensor" in refused("repetitions", recording)
    assert "'hand'" in refused("repetitions", recording, "--sensor", "hand")


def test_one_sensor_alone_needs_no_name(run, tmp_path):
    angle = np.radians(20 * (1 - np.cos(2 * np.pi * np.clip(np.arange(1500) / 50 - 5, 0, 20) / 2.5)))
    noise = np.random.default_rng(1).normal(0, 0.01, (1500, 6))
    force = 9.81 * np.stack([0 * angle, np.sin(angle), np.cos(angle)], axis=1)
    rate = np.stack([np.gradient(angle, 0.02), 0 * angle, 0 * angle], axis=1)
    rows = ["time_s,foot_acc_x,foot_acc_y,foot_acc_z,foot_gyro_x,foot_gyro_y,foot_gyro_z"]
    samples = np.hstack([force, rate]) + noise
    rows += [f"{at / 50:.2f}," + ",".join(f"{each:.4f}" for each in row) for at, row in enumerate(samples)]
    path = tmp_path / "foot.csv"
    path.write_text("\n".join(rows) + "\n")
    units = ["--accelerometer-unit", "m/s^2", "--gyroscope-unit", "rad/s"]
    code, said, talk = run("repetitions", path, *units)
    assert (code, talk) == (0, "")
    assert said.startswith("The foot sensor shows 1 set.")
    assert said.split("\n\n")[1].splitlines()[-1].split()[3] == "8"
