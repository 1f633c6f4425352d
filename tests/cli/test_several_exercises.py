"""Two exercises in one recording from the command line; left open where the counts don't fit."""

import csv
import json

import jsonschema
import pytest

from imu_rom.exchange.result import parse_result, result_schema, write_result
from imu_rom_cli import main

EXERCISE = """
[[stage.exercise]]
name = "{name}"
joint = "ankle"
motion = "dorsiflexion"
side = "{side}"
proximal = "shank"
distal = "foot"
calibration_movement = "plantarflexion"
sets = {sets}
repetitions = {repetitions}
rest_s = 30
start_deg = -25
end_range_deg = [5, 15]
"""
HEAD = """[plan]
format = 1
title = "Two exercises"
patient = "P-0042"
tendon_site = "achilles insertion"
[[stage]]
name = "now"
"""


def plan_text(sets=2):
    parts = [("heeldrop", "left", 2, 5), ("heeldropbent", "left", sets, 4)]
    return HEAD + "".join(
        EXERCISE.format(name=name, side=side, sets=count, repetitions=repetitions)
        for name, side, count, repetitions in parts
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("two")
    (folder / "plan.toml").write_text(plan_text())
    words = ["simulate", "--plan", folder / "plan.toml", "--exercise", "heeldrop", "--exercise", "heeldropbent"]
    assert main([*map(str, words), "--rate", "50", "--seed", "1", "--out", str(folder / "dataset")]) == 0
    return folder


def rows_of(path):
    with path.open(newline="") as file:
        return list(csv.DictReader(file))


def test_a_simulated_session_brings_its_events_and_is_answered_by_them(folder, capsys):
    (events,) = folder.glob("dataset/sub-*/motion/*_events.tsv")
    assert [line.split("\t")[2:] for line in events.read_text().splitlines()] == [
        ["trial_type", "side"],
        ["heeldrop", "left"],
        ["heeldropbent", "left"],
    ]
    out = folder / "result"
    assert main(["analyse", str(folder / "dataset"), "--plan", str(folder / "plan.toml"), "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert said.index("Two exercises: heeldrop, left") < said.index("Two exercises: heeldropbent, left")
    content = json.loads((out / "result.json").read_text())
    jsonschema.validate(content, result_schema())
    assert [each["allotment"]["said_by"] for each in content["exercises"]] == ["events", "events"]
    document = parse_result((out / "result.json").read_bytes(), "result.json")
    assert write_result(document) == (out / "result.json").read_bytes()
    sets = rows_of(out / "sets.csv")
    assert [(each["exercise"], each["side"], each["set"], each["repetitions"]) for each in sets] == [
        ("heeldrop", "left", "1", "5"),
        ("heeldrop", "left", "2", "5"),
        ("heeldropbent", "left", "1", "4"),
        ("heeldropbent", "left", "2", "4"),
    ]
    assert len(rows_of(out / "repetitions.csv")) == 18
    page = (out / "report.html").read_text()
    assert 'id="exercise-2"' in page
    angle = rows_of(out / "angle.csv")
    for each in sets:
        row = angle[round((float(each["start_s"]) + 1.0) * 50)]
        assert (row["exercise"], row["side"], row["phase"]) == (each["exercise"], "left", f"set {each['set']}")


def test_other_counts_leave_the_sets_undecided(folder, tmp_path, capsys):
    plan = tmp_path / "plan.toml"
    plan.write_text(plan_text(sets=3))
    words = ["analyse", str(folder / "dataset"), "--plan", str(plan), "--exercise", "heeldrop"]
    out = tmp_path / "result"
    assert main([*words, "--exercise", "heeldropbent", "--out", str(out)]) == 0
    said = capsys.readouterr().out
    assert "Nobody can tell which exercise these sets belong to: heeldrop or heeldropbent, left ankle" in said
    assert "4 sets were found where the plan asks for 2 of heeldrop and 3 of heeldropbent" in said
    assert {each["verdict"] for each in rows_of(out / "sets.csv")} == {"undecided"}
    content = json.loads((out / "result.json").read_text())
    jsonschema.validate(content, result_schema())
    assert content["exercises"][0]["allotment"]["candidates"] == ["heeldrop", "heeldropbent"]


def test_another_leg_is_simulated_with_a_new_pose(tmp_path, capsys):
    plan = tmp_path / "plan.toml"
    right = EXERCISE.format(name="heeldropright", side="right", sets=1, repetitions=5)
    plan.write_text(HEAD + EXERCISE.format(name="heeldrop", side="left", sets=1, repetitions=5) + right)
    words = ["simulate", "--plan", plan, "--exercise", "heeldrop", "--exercise", "heeldropright", "--rate", "50"]
    assert main([*map(str, words), "--out", str(tmp_path / "dataset")]) == 0
    (truth,) = tmp_path.glob("dataset/sourcedata/truth/*_truth.json")
    worn = json.loads(truth.read_text())["done_each_time_worn"]
    assert worn[0]["worn"]["stop_s"] < worn[1]["pose"]["start_s"]
    assert main([*map(str, words), "--fault", "dropped_share=0.01", "--out", str(tmp_path / "other")]) == 2
    assert "--fault" in capsys.readouterr().err


def test_the_page_from_the_result_is_the_page_of_the_analysis(folder, tmp_path):
    (dataset,) = folder.glob("dataset/sub-*")
    out = tmp_path / "result"
    assert main(["analyse", str(dataset), "--plan", str(folder / "plan.toml"), "--out", str(out)]) == 0
    assert main(["report", str(out), "--out", str(tmp_path / "page.html")]) == 0
    assert (tmp_path / "page.html").read_bytes() == (out / "report.html").read_bytes()
