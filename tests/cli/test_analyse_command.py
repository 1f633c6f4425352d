"""``imu-rom analyse``: what it prints and writes, the same each time; and every refusal in one sentence."""

import csv
import hashlib
import json
import os
import subprocess
import sys

import jsonschema
import numpy as np
import pytest

from imu_rom.exchange.folder import RESULT_FILES
from imu_rom.exchange.result import read_result, result_schema
from imu_rom.wording.cautions import CAUTION, STOP_RULE
from imu_rom_cli import main


def names(folder):
    return sorted(each.name for each in folder.iterdir())


@pytest.fixture(scope="module")
def out(recording, plan, tmp_path_factory):
    folder = tmp_path_factory.mktemp("analysed") / "out"
    assert main(["analyse", str(recording), "--plan", str(plan), "--out", str(folder)]) == 0
    return folder


@pytest.fixture(scope="module")
def layout(out):
    return json.loads((out / "result.json").read_bytes())


def rows_of(path):
    with path.open(newline="") as file:
        return list(csv.DictReader(file))


def test_it_prints_table_sentences_findings_and_cautions(run, recording, plan, layout):
    code, said, talk = run("analyse", recording, "--plan", plan)
    assert (code, talk) == (0, "")
    for each in ("Set 1 ", "Set 2 ", "Session: 10 of 10 prescribed repetitions, in 2 sets; ", CAUTION, STOP_RULE):
        assert each in said
    for finding in layout["findings"]:
        assert finding["sentence"] in said
    for done in layout["exercises"][0]["sets"]:
        assert f"{done['past_threshold_s']:.1f} ({done['past_threshold_low_s']:.1f} to" in said
    assert max(len(line) for line in said.splitlines()[:8]) < 110


def test_the_folder_holds_the_five_files(out, layout):
    assert names(out) == sorted(RESULT_FILES)
    jsonschema.Draft202012Validator(result_schema(), format_checker=jsonschema.FormatChecker()).validate(layout)
    assert len(read_result(out / "result.json").exercises[0].comparison.sets) == 2
    sets = layout["exercises"][0]["sets"]
    assert [row["verdict"] for row in rows_of(out / "sets.csv")] == [done["verdict"] for done in sets]
    assert len(rows_of(out / "repetitions.csv")) == sum(len(done["repetitions"]) for done in sets)
    assert (out / "report.html").read_bytes().startswith(b"<!DOCTYPE html>")


def test_the_angle_agrees_with_the_result(out, layout):
    rows = rows_of(out / "angle.csv")
    assert len(rows) == layout["recording"]["samples"]
    assert list(rows[0]) == [
        "time_s",
        "angle_deg",
        "standard_uncertainty_deg",
        "zero_standard_uncertainty_deg",
        "phase",
    ]
    assert {row["phase"] for row in rows} >= {"setup", "neutral", "calibration", "between", "set 1", "set 2"}
    answer = layout["exercises"][0]
    time, angle = (np.array([float(row[name]) for row in rows]) for name in ("time_s", "angle_deg"))
    for done in answer["sets"]:
        for each in done["repetitions"]:
            inside = (time >= each["start_s"]) & (time <= each["stop_s"])
            assert angle[inside].max() == pytest.approx(each["end_range_deg"], abs=1.5)
            past = (angle[inside] > 4.0).sum() / layout["recording"]["rate_hz"]
            assert past == pytest.approx(each["past_threshold_s"], abs=0.06)
    # at the zero the whole session shares the pose's error; away from it, what follows the angle too
    (budget,) = layout["provenance"]["uncertainty_budget"]
    shared = np.array([float(row["zero_standard_uncertainty_deg"]) for row in rows])
    assert shared.min() == pytest.approx(budget["parts_deg"]["zero_pose"], abs=0.001)
    near = np.abs(np.abs(angle) - budget["excursion_deg"]) < 0.2
    assert shared[near] == pytest.approx(answer["u_shared_deg"], abs=0.02)


def test_the_provenance_names_what_was_read(layout, recording, plan):
    inputs = {each["name"]: each for each in layout["provenance"]["inputs"]}
    for path, role in ((recording, "recording"), (plan, "plan")):
        assert inputs[path.name] == {
            "name": path.name,
            "sha256": hashlib.sha256(path.read_bytes()).hexdigest(),
            "role": role,
        }
    assert layout["recorded_at"] == "2026-12-03T18:02:11+01:00"
    assert layout["recorded_at_source"] == "scans.tsv"
    assert (layout["patient"], layout["bids_subject"]) == ("P-0017", "P0017")
    assert str(plan.parent) not in json.dumps(layout)


def test_the_same_input_gives_the_same_bytes_in_another_process(out, recording, plan, tmp_path):
    words = ["analyse", recording.parent, "--plan", plan, "--out", tmp_path / "again"]
    code = "import sys; from imu_rom_cli import main; sys.exit(main())"
    environment = {**os.environ, "PYTHONHASHSEED": "7", "TZ": "Pacific/Auckland", "LC_ALL": "C"}
    subprocess.run([sys.executable, "-c", code, *map(str, words)], check=True, cwd=tmp_path, env=environment)
    for name in RESULT_FILES:
        assert (tmp_path / "again" / name).read_bytes() == (out / name).read_bytes(), name


def test_json_is_the_file(run, out, recording, plan):
    code, said, talk = run("analyse", recording, "--plan", plan, "--json")
    assert (code, talk) == (0, "")
    assert said == (out / "result.json").read_text()


def test_an_existing_folder_is_refused_before_any_work(refused, out, plan, tmp_path):
    before = {name: (out / name).read_bytes() for name in RESULT_FILES}
    sentence = refused("analyse", tmp_path / "no recording", "--plan", plan, "--out", out)
    assert "exists already; name another folder, or add --overwrite" in sentence
    assert {name: (out / name).read_bytes() for name in RESULT_FILES} == before


def test_overwrite_replaces_an_earlier_result_only(run, refused, recording, plan, tmp_path):
    folder = tmp_path / "out"
    folder.mkdir()
    (folder / "sets.csv").write_text("old")
    code, _, talk = run("analyse", recording, "--plan", plan, "--out", folder, "--overwrite")
    assert (code, talk) == (0, f"Written to {folder}.\n")
    assert names(folder) == sorted(RESULT_FILES)
    assert names(tmp_path) == ["out"]
    (folder / "notes.txt").write_text("mine")
    assert "'notes.txt'" in refused("analyse", recording, "--plan", plan, "--out", folder, "--overwrite")
    assert "--overwrite needs --out" in refused("analyse", recording, "--plan", plan, "--overwrite")


@pytest.mark.parametrize("place", ["nowhere/out", "file/out", "/proc/imu_rom_out"])
def test_a_place_that_cant_be_written_is_refused(refused, recording, plan, tmp_path, place):
    (tmp_path / "file").write_text("x")
    assert "can't be written" in refused("analyse", recording, "--plan", plan, "--out", tmp_path / place)
    assert names(tmp_path) == ["file"]


@pytest.mark.parametrize("where", ["imu_rom.session.analyse", "imu_rom.report.page.page_blocks"])
def test_an_interrupt_leaves_nothing(run, recording, plan, tmp_path, monkeypatch, where):
    def interrupted(*_arguments, **_named):
        raise KeyboardInterrupt

    monkeypatch.setattr(where, interrupted)
    code, said, talk = run("analyse", recording, "--plan", plan, "--out", tmp_path / "out")
    assert (code, said) == (130, "")
    assert "Interrupted; nothing was written." in talk
    assert names(tmp_path) == []


def test_a_bad_recording_writes_nothing(refused, plan, tmp_path):
    refused("analyse", tmp_path / "missing_motion.tsv", "--plan", plan, "--out", tmp_path / "out")
    assert names(tmp_path) == []


def test_a_plan_for_another_person_or_exercise_is_refused(refused, run, recording, plan_text, tmp_path):
    plan = tmp_path / "plan.toml"
    plan.write_text(plan_text.replace("P-0017", "P-0099"))
    sentence = refused("analyse", recording, "--plan", plan)
    assert "'P-0099'" in sentence
    assert "subject 'P0017'" in sentence
    plan.write_text(plan_text.replace('"heeldrop"', '"kneebend"'))
    sentence = refused("analyse", recording, "--plan", plan)
    assert "task 'heeldrop'" in sentence
    assert "'kneebend'" in sentence
    assert run("analyse", recording, "--plan", plan, "--exercise", "kneebend")[0] == 0
    assert "got 'squat'" in refused("analyse", recording, "--plan", plan, "--exercise", "squat")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["--neutral", "12"], "must be auto or START:STOP"),
        (["--neutral", "none"], "must be auto or START:STOP"),
        (["--neutral", "9:3"], "must be auto or START:STOP"),
        (["--neutral", "nan:3"], "must be auto or START:STOP"),
        (["--exercise", "heeldrop@3"], "must be NAME or NAME@START:STOP"),
        (["--exercise", "@3:9"], "must be NAME or NAME@START:STOP"),
        (["--exercise", ""], "must be NAME or NAME@START:STOP"),
        (["--recorded-at", "yesterday"], "--recorded-at: must be a time with its offset"),
        (["--settings", "none.toml"], "none.toml: can't be read"),
        (["--marks", "none.json"], "none.json: can't be read"),
        (["--rate", "50"], "--rate"),
        (["--unknown"], "no such option"),
    ],
)
def test_a_wrong_word_is_one_sentence(refused, recording, plan, words, sentence):
    assert sentence in refused("analyse", recording, "--plan", plan, *words).replace("No such", "no such")


def test_a_missing_word_is_one_sentence(refused, recording, plan):
    assert "missing option '--plan'; see imu-rom analyse --help" in refused("analyse", recording)
    assert "name a RECORDING" in refused("analyse", "--plan", plan)
    assert "can't be read" in refused("analyse", recording, "--plan", plan.parent / "none.toml")


def test_a_stretch_limits_the_sets(run, recording, plan, layout):
    first = layout["exercises"][0]["sets"][0]
    words = ["--exercise", f"heeldrop@{first['start_s'] - 2:.1f}:{first['stop_s'] + 2:.1f}", "--json"]
    code, said, _ = run("analyse", recording, "--plan", plan, *words)
    assert code == 0
    assert [each["start_s"] for each in json.loads(said)["exercises"][0]["sets"]] == [first["start_s"]]


def test_a_given_pose_and_time_are_used(run, recording, plan, layout):
    zero = layout["exercises"][0]["zero"]
    words = ["--neutral", f"{zero['start_s'] + 0.5:.1f}:{zero['stop_s'] - 0.5:.1f}"]
    words += ["--recorded-at", "2026-12-04T08:00:00+01:00", "--json"]
    code, said, _ = run("analyse", recording, "--plan", plan, *words)
    assert code == 0
    given = json.loads(said)
    assert given["exercises"][0]["zero"]["source"] == "given"
    assert (given["recorded_at"], given["recorded_at_source"]) == ("2026-12-04T08:00:00+01:00", "option")
    assert "time-replaced" in {each["code"] for each in given["findings"]}


def test_a_strike_is_applied_and_kept_in_the_provenance(run, refused, recording, plan, layout, tmp_path):
    struck = layout["exercises"][0]["sets"][0]["repetitions"][2]
    mark = {
        "action": "strike",
        "start_s": struck["start_s"],
        "stop_s": struck["stop_s"],
        "reason": "lost balance",
        "by": "clinician 3",
        "at": "2026-12-04T09:00:00+01:00",
    }
    digest = hashlib.sha256(recording.read_bytes()).hexdigest()
    path = tmp_path / "marks.json"
    path.write_text(json.dumps({"recording_sha256": digest, "marks": [mark]}))
    code, said, _ = run("analyse", recording, "--plan", plan, "--marks", path, "--json")
    assert code == 0
    marked = json.loads(said)
    ends = [each["end_range_s"] for each in marked["exercises"][0]["sets"][0]["repetitions"]]
    assert len(ends) == 4
    assert struck["end_range_s"] not in ends
    assert marked["provenance"]["marks"] == [mark]
    assert {"name": "marks.json", "sha256": hashlib.sha256(path.read_bytes()).hexdigest(), "role": "marks"} in marked[
        "provenance"
    ]["inputs"]
    path.write_text(json.dumps({"recording_sha256": "0" * 64, "marks": [mark]}))
    assert "for another recording" in refused("analyse", recording, "--plan", plan, "--marks", path)


def test_settings_are_used_and_named(run, recording, plan, tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("[uncertainty]\nzero_pose_deg = 0.5\n")
    code, said, _ = run("analyse", recording, "--plan", plan, "--settings", path, "--json")
    assert code == 0
    provenance = json.loads(said)["provenance"]
    assert provenance["settings"]["uncertainty"]["zero_pose_deg"] == 0.5
    assert "mine.toml" in {each["name"] for each in provenance["inputs"] if each["role"] == "settings"}


def test_a_plans_own_uncertainty_wins_over_the_settings_and_is_kept(run, recording, plan, tmp_path):
    check = {"format": "imu-rom check", "schema_version": 1, "check": "taping"}
    text = json.dumps({**check, "for_the_plan": {"parts": {"zero_pose_deg": 0.75, "attitude_deg": 0.4}}})
    (tmp_path / "check.json").write_text(text, "utf-8")
    own = tmp_path / "own.toml"
    own.write_text(plan.read_text("utf-8") + '\n[uncertainty]\nfrom = "check.json"\nattitude_deg = 0.25\n', "utf-8")
    settings = tmp_path / "settings.toml"
    settings.write_text("[uncertainty]\nzero_pose_deg = 5.0\nsoft_tissue_slow_deg = 0.1\n", "utf-8")
    code, said, _ = run("analyse", recording, "--plan", own, "--settings", settings, "--json")
    assert code == 0
    layout = json.loads(said)
    jsonschema.Draft202012Validator(result_schema(), format_checker=jsonschema.FormatChecker()).validate(layout)
    provenance = layout["provenance"]
    zero = provenance["uncertainty_budget"][0]["terms"][0]
    assert (zero["value_deg"], zero["source"]) == (0.75, "the taping check check.json")
    used = provenance["settings"]["uncertainty"]
    assert (used["zero_pose_deg"], used["attitude_deg"], used["soft_tissue_slow_deg"]) == (0.75, 0.25, 0.1)
    assert provenance["own_uncertainty"] == {
        "zero_pose_deg": "the taping check check.json",
        "attitude_deg": "the plan",
    }
    (file,) = [each for each in provenance["inputs"] if each["role"] == "check"]
    assert file == {"name": "check.json", "sha256": hashlib.sha256(text.encode()).hexdigest(), "role": "check"}
    (note,) = [each for each in layout["findings"] if each["code"] == "own-uncertainty"]
    assert note["sentence"] == (
        "Parts of the standard uncertainty are the clinic's own: zero pose 0.75 deg (the taping check check.json), "
        "attitude 0.25 deg (the plan)."
    )
