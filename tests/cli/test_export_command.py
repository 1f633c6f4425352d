"""``imu-rom export``: results and courses as files for other programs; whole or not at all."""

import csv
import json
import shutil
from pathlib import Path

import pytest

from imu_rom_cli import main

SAMPLE = Path(__file__).parents[2] / "sample_recordings"


@pytest.fixture(scope="module")
def result(tmp_path_factory):
    """A result as analyse writes it."""
    out = tmp_path_factory.mktemp("analysed") / "P-0003"
    recording, plan = SAMPLE / "dataset" / "sub-P0003", SAMPLE / "plans" / "P-0003.toml"
    assert main(["analyse", str(recording), "--plan", str(plan), "--out", str(out)]) == 0
    return out


def rows_of(path):
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


def test_a_result_becomes_tables_with_the_numbers_of_the_result(result, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["export", str(result), "--to", "tables", "--out", str(out)]) == 0
    assert capsys.readouterr().err == f"Written to {out}.\n"
    document = json.loads((result / "result.json").read_text())
    (exercise,) = document["exercises"]
    (session,) = rows_of(out / "sessions.csv")
    assert float(session["past_threshold_s"]) == exercise["total"]["past_threshold_s"]
    assert session["recorded_at"] == document["recorded_at"]
    repetitions = [each for done in exercise["sets"] for each in done["repetitions"]]
    assert [float(each["end_range_deg"]) for each in rows_of(out / "repetitions.csv")] == [
        each["end_range_deg"] for each in repetitions
    ]
    # the columns that analyse writes are all there, with the same cells but for the decimals of probabilities
    for name in ("repetitions.csv", "sets.csv"):
        for before, after in zip(rows_of(result / name), rows_of(out / name), strict=True):
            for key, cell in before.items():
                if key.startswith("probability") and cell:
                    assert float(after[key]) == float(cell)
                else:
                    assert after[key] == cell, key


def test_the_samples_are_those_of_the_angle_file(result, tmp_path):
    assert main(["export", str(result / "result.json"), "--to", "tables", "--out", str(tmp_path / "out")]) == 0
    before = (result / "angle.csv").read_text().splitlines()[1:]
    after = (tmp_path / "out" / "samples.csv").read_text().splitlines()[1:]
    assert ["sub-P0003_task-heeldrop_tracksys-imu,1," + line for line in before] == after


def test_a_course_goes_out_with_its_diary_and_weeks(tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["export", str(SAMPLE / "course"), "--to", "tables", "--out", str(out)]) == 0
    said = capsys.readouterr().err.splitlines()
    assert len([line for line in said if "no angle.csv" in line]) == 1
    sessions = rows_of(out / "sessions.csv")
    assert len(sessions) == len(list((SAMPLE / "course" / "results").glob("*/result.json")))
    assert [each["recorded_at"] for each in sessions] == sorted(each["recorded_at"] for each in sessions)
    lines = (SAMPLE / "course" / "diary.csv").read_text().splitlines()
    assert len(rows_of(out / "diary.csv")) == len(lines) - 1
    weeks = rows_of(out / "weeks.csv")
    assert [int(each["week"]) for each in weeks] == list(range(1, len(weeks) + 1))
    counted = sum(int(each["repetitions_recorded"]) for each in rows_of(out / "doses.csv"))
    assert counted == sum(int(each["repetitions"]) for each in sessions)


def test_missing_samples_are_named_only_where_samples_would_go_out(result, tmp_path, capsys):
    alone = tmp_path / "result.json"
    alone.write_bytes((result / "result.json").read_bytes())
    for to in ("fhir", "methods"):
        assert main(["export", str(alone), "--to", to, "--out", str(tmp_path / to)]) == 0
        assert capsys.readouterr().err == f"Written to {tmp_path / to}.\n"
    assert main(["export", str(alone), "--to", "tables", "--out", str(tmp_path / "tables"), "--deidentify"]) == 0
    assert f"Left out: {alone} has no angle.csv beside it" in capsys.readouterr().err


@pytest.mark.parametrize("whole", [2**31, -(2**31), 10**14])
def test_a_whole_number_that_no_fhir_integer_holds_is_one_sentence(result, tmp_path, capsys, whole):
    made = json.loads((result / "result.json").read_text())
    made["exercises"][0]["sets"][0]["set"] = whole
    crafted = tmp_path / "result.json"
    crafted.write_text(json.dumps(made))
    for to in ("fhir", "tables"):
        assert main(["export", str(crafted), "--to", to, "--out", str(tmp_path / to)]) == 2
        assert "must be at most 2147483647, got a whole number beyond that" in capsys.readouterr().err
        assert not (tmp_path / to).exists()


def test_nothing_is_analysed_or_written_in_a_course(tmp_path, capsys):
    folder = tmp_path / "course"
    shutil.copytree(SAMPLE / "dataset" / "sub-P0003", folder / "data" / "sub-P0003")
    shutil.copy(SAMPLE / "plans" / "P-0003.toml", folder / "plan.toml")
    (folder / "diary.csv").write_text("date,exercise,done\n2026-12-01,heeldrop,yes\n")
    before = sorted(each.name for each in folder.rglob("*"))
    assert main(["export", str(folder), "--to", "tables", "--out", str(tmp_path / "out")]) == 0
    assert "is not analysed yet; run imu-rom progress first." in capsys.readouterr().err
    assert sorted(each.name for each in folder.rglob("*")) == before
    assert (rows_of(tmp_path / "out" / "sessions.csv"), len(rows_of(tmp_path / "out" / "diary.csv"))) == ([], 1)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ["none", "--to", "tables", "--out", "out"],
            "none: there is no such file or folder; name a result or a course.",
        ),
        ([".", "--to", "tables", "--out", "out"], ".: holds neither result.json nor plan.toml; name the folder"),
        (["result", "--to", "tables"], "--to tables needs --out FOLDER"),
        (["result", "--to", "tables", "--overwrite"], "--overwrite needs --out FOLDER"),
        (["result", "--to", "stone", "--out", "out"], "'stone' is not one of"),
        (["result", "--to", "tables", "--out", "no/where"], "there is no folder"),
        (
            ["result", "--to", "tables", "--deidentify", "--secret", "none", "--out", "out"],
            "none: can't be read: no such",
        ),
        (["torn", "--to", "tables", "--out", "out"], "is damaged or cut off"),
    ],
)
def test_what_can_not_go_out_is_one_sentence(result, tmp_path, monkeypatch, capsys, words, said):
    shutil.copytree(result, tmp_path / "result")
    (tmp_path / "torn").mkdir()
    (tmp_path / "torn" / "result.json").write_text("{")
    monkeypatch.chdir(tmp_path)
    before = sorted(each.name for each in tmp_path.rglob("*"))
    assert main(["export", *words]) == 2
    captured = capsys.readouterr()
    assert captured.out == ""
    assert len(captured.err.splitlines()) == 1
    assert said in captured.err
    assert sorted(each.name for each in tmp_path.rglob("*")) == before


@pytest.mark.parametrize("to", ["tables", "bids"])
@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        (
            '"duration_s": 334.28',
            '"duration_s": 1e999',
            "result.json.recording.duration_s: must be at most 1e+12, got inf",
        ),
        (
            '"sets": 2,',
            '"sets": 1' + "0" * 400 + ",",
            "sets: must be at most 2147483647, got a whole number beyond that",
        ),
        (
            '"recorded_at": "2026',
            '"recorded_at": "20',
            "result.json.recorded_at: must be a time such as 2026-12-01T08:00",
        ),
        ('"recorded_at": "2026', '"recorded_at": "0001', "result.json.recorded_at: must be a time such as"),
    ],
)
def test_numbers_that_no_recording_gives_are_refused(result, tmp_path, capsys, to, old, new, said):
    copy = tmp_path / "result"
    shutil.copytree(result, copy)
    text = (copy / "result.json").read_text("utf-8")
    assert old in text
    (copy / "result.json").write_text(text.replace(old, new, 1), "utf-8")
    assert main(["export", str(copy), "--to", to, "--out", str(tmp_path / "out")]) == 2
    captured = capsys.readouterr()
    assert said in captured.err
    assert len(captured.err.splitlines()) == 1
    assert [each.name for each in tmp_path.iterdir()] == ["result"]


def test_a_window_without_an_upper_edge_is_an_empty_cell(result, tmp_path):
    copy = tmp_path / "result"
    shutil.copytree(result, copy)
    document = json.loads((copy / "result.json").read_text("utf-8"))
    document["exercises"][0]["exercise"]["end_range_deg"] = [5.0, None]
    document["exercises"][0]["sets"][0]["prescribed_high_s"] = None
    (copy / "result.json").write_text(json.dumps(document), "utf-8")
    assert main(["export", str(copy), "--to", "tables", "--out", str(tmp_path / "out")]) == 0
    (session,) = rows_of(tmp_path / "out" / "sessions.csv")
    assert (session["window_low_deg"], session["window_high_deg"]) == ("5.000", "")
    assert rows_of(tmp_path / "out" / "sets.csv")[0]["prescribed_high_s"] == ""


def test_a_torn_angle_file_leaves_nothing_half_written(result, tmp_path, capsys):
    copy = tmp_path / "result"
    shutil.copytree(result, copy)
    (copy / "angle.csv").write_bytes((copy / "angle.csv").read_bytes()[:-4])
    assert main(["export", str(copy), "--to", "tables", "--out", str(tmp_path / "out")]) == 2
    assert "angle.csv: is cut off" in capsys.readouterr().err
    assert [each.name for each in tmp_path.iterdir()] == ["result"]


def test_a_bids_derivative_goes_out(result, tmp_path, capsys):
    out = tmp_path / "out"
    assert main(["export", str(result), "--to", "bids", "--out", str(out)]) == 0
    assert capsys.readouterr().err == f"Written to {out}.\n"
    (motion,) = (out / "derivatives" / "imu_rom" / "sub-P0003" / "motion").glob("*_motion.tsv")
    assert len(motion.read_text().splitlines()) == len((result / "angle.csv").read_text().splitlines()) - 1


def test_a_course_as_bids_says_what_has_no_place(result, tmp_path, capsys):
    folder = tmp_path / "course"
    shutil.copytree(result, folder / "results" / "one")
    shutil.copy(SAMPLE / "plans" / "P-0003.toml", folder / "plan.toml")
    assert main(["export", str(folder), "--to", "bids", "--out", str(tmp_path / "out")]) == 0
    assert "the diary and the weeks" in capsys.readouterr().err
    assert len(list((tmp_path / "out").rglob("*_motion.tsv"))) == 1


@pytest.mark.parametrize("to", ["tables", "bids", "fhir", "methods"])
def test_deidentified_exports_hold_no_date_and_say_what_remains(result, tmp_path, capsys, to):
    out = tmp_path / "out"
    assert main(["export", str(result), "--to", to, "--deidentify", "--out", str(out)]) == 0
    said = capsys.readouterr().err
    assert said.count("Remains: ") >= 4
    assert "'P-0003'" in said
    digests = {each["sha256"] for each in json.loads((result / "result.json").read_text())["provenance"]["inputs"]}
    for path in out.rglob("*"):
        text = path.read_text("utf-8") if path.is_file() else ""
        assert "2026-12-02" not in text
        assert "into range" not in text  # stage and title of the plan
        assert not [each for each in digests if each in text]


def test_a_secret_changes_the_shift_and_is_asked_for(result, tmp_path, capsys):
    (tmp_path / "secret").write_text("some words")
    words = ["export", str(result), "--to", "tables", "--deidentify", "--out"]
    assert main([*words, str(tmp_path / "one")]) == 0
    assert "--secret FILE" in capsys.readouterr().err
    assert main([*words, str(tmp_path / "two"), "--secret", str(tmp_path / "secret")]) == 0
    assert "--secret" not in capsys.readouterr().err
    (one,), (two,) = (rows_of(tmp_path / each / "sessions.csv") for each in ("one", "two"))
    assert one["recorded_at"] != two["recorded_at"]
    assert one["past_threshold_s"] == two["past_threshold_s"]
    assert main(["export", str(result), "--to", "tables", "--secret", "x", "--out", str(tmp_path / "no")]) == 2
    assert "--secret needs --deidentify" in capsys.readouterr().err


def test_an_earlier_export_is_replaced_only_when_asked_for(result, tmp_path, capsys):
    out = tmp_path / "out"
    words = ["export", str(result), "--to", "tables", "--out", str(out)]
    assert [main(words), main(words)] == [0, 2]
    assert "add --overwrite" in capsys.readouterr().err
    assert main([*words, "--overwrite"]) == 0
    (out / "mine.txt").write_text("mine")
    assert main([*words, "--overwrite"]) == 2
    assert "mine.txt" in capsys.readouterr().err


def test_a_bundle_and_a_methods_text_go_to_standard_output_or_into_a_folder(result, tmp_path, capsys):
    for to, name, begins in (("fhir", "bundle.json", "{"), ("methods", "methods.md", "# Methods")):
        assert main(["export", str(result), "--to", to]) == 0
        printed = capsys.readouterr()
        assert printed.err == ""
        assert printed.out.startswith(begins)
        out = tmp_path / to
        assert main(["export", str(result), "--to", to, "--out", str(out)]) == 0
        assert [each.name for each in out.iterdir()] == [name]
        assert (out / name).read_text(encoding="utf-8") == printed.out
        assert main(["export", str(result), "--to", to, "--out", str(out)]) == 2
        assert main(["export", str(result), "--to", to, "--out", str(out), "--overwrite"]) == 0
        capsys.readouterr()


def test_a_bundle_has_the_numbers_of_the_result(result, capsys):
    assert main(["export", str(result), "--to", "fhir"]) == 0
    bundle = json.loads(capsys.readouterr().out)
    (exercise,) = json.loads((result / "result.json").read_text())["exercises"]
    found = [each["resource"] for each in bundle["entry"] if each["resource"]["resourceType"] == "Observation"]
    ends = [each["valueQuantity"]["value"] for each in found if each["code"]["text"] == "End range of one repetition"]
    assert ends == [each["end_range_deg"] for done in exercise["sets"] for each in done["repetitions"]]


def test_a_course_is_one_bundle_but_no_methods_text(capsys):
    course = str(SAMPLE / "course")
    assert main(["export", course, "--to", "fhir"]) == 0
    bundle = json.loads(capsys.readouterr().out)
    kinds = [each["resource"]["resourceType"] for each in bundle["entry"]]
    # 23 results and the diary
    assert kinds.count("Provenance") == 24
    assert main(["export", course, "--to", "methods"]) == 2
    assert capsys.readouterr().err.startswith(
        "imu-rom: --to methods: is a course, and a methods text tells of one result"
    )
