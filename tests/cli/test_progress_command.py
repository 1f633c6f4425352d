"""``imu-rom progress``: a course folder in the terminal; what can't be used is named and the rest is answered."""

import json
import re
import shutil
from pathlib import Path

import jsonschema
import pytest

from imu_rom.exchange.progress import progress_schema
from imu_rom_cli import main

SAMPLE = Path(__file__).parents[2] / "sample_recordings"

DIARY = """\
date,exercise,done,pain_during,pain_next_morning,red_flag
2026-12-01,heeldrop,yes,2,1,
2026-12-02,heeldrop,yes,11,1,
2026-12-03,heeldrop,yes,6,2,
2026-12-04,squat,yes,2,2,
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """A plan, one recording, one of another patient, a torn result, and a diary with faults."""
    folder = tmp_path_factory.mktemp("course") / "P-0003"
    for subject in ("sub-P0003", "sub-P0004"):
        shutil.copytree(SAMPLE / "dataset" / subject, folder / "data" / subject)
    shutil.copy(SAMPLE / "plans" / "P-0003.toml", folder / "plan.toml")
    (folder / "diary.csv").write_text(DIARY)
    (folder / "results" / "torn").mkdir(parents=True)
    (folder / "results" / "torn" / "result.json").write_text("{")
    return folder


@pytest.fixture(scope="module")
def first(folder):
    """All files after the first run."""
    assert main(["progress", str(folder)]) == 0
    return {each: each.read_bytes() for each in folder.rglob("*") if each.is_file()}


@pytest.fixture
def said(folder, first, capsys):
    """Run the command again and give what it prints."""

    def run(*options):
        assert first
        assert main(["progress", str(folder), *options]) == 0
        # folded lines are put together again
        return capsys.readouterr().out.replace("\n  ", " ")

    return run


def test_it_answers_what_it_can_and_names_the_rest(said):
    text = said()
    # above 5 of 10: before anything else
    assert text.startswith("Pain above 5 of 10 is noted: stop these exercises and contact the clinic")
    assert "pain during 6 of 10 on 2026-12-03." in text.splitlines()[1]
    assert re.search(
        r"^heeldrop, left +8 +1 +2 +0 +5 +0 +12 +38 +\d+ \(\d+ to \d+\), \d+ undecided$", text, re.MULTILINE
    )
    assert "Not used, in all or in part (diary line 2, recording 1, result 1):" in text
    for fault in (
        "diary.csv:3:25: pain_during must be a number from 0 to 10, got '11'.",
        "diary.csv:5:12: exercise must be one of the plan, got 'squat'",
        "results/torn/result.json:1:2: is damaged or cut off",
        "sub-P0004_task-floordrop_tracksys-imu_motion.tsv: is of subject 'P0004', but the plan is for 'P-0003'",
    ):
        assert fault in text
    assert "fluoroquinolone" in text
    assert "diagnoses nothing" in text


def test_a_red_flag_stands_before_anything_else(folder, said):
    diary = folder / "diary.csv"
    diary.write_text(DIARY + "2026-12-04,,,,,breathless\n")
    try:
        assert said().startswith("Call the emergency number now, and do no exercises. The diary notes: shortness of")
        assert json.loads(said("--json"))["cautions"][0].startswith("Call the emergency number now")
    finally:
        diary.write_text(DIARY)


def test_the_second_run_analyses_nothing_and_changes_no_file(folder, first, said):
    assert "2 recordings (0 analysed now)" in said()
    assert {each: each.read_bytes() for each in folder.rglob("*") if each.is_file()} == first
    assert said() == said("--no-analysis")


def test_json_fits_its_schema_and_agrees_with_the_table(said):
    layout = json.loads(said("--json"))
    jsonschema.Draft202012Validator(progress_schema()).validate(layout)
    (dose,) = layout["course"]["doses"]
    assert (dose["sessions_recorded"], dose["sessions_ticked"]) == (1, 2)
    assert [each["code"] for each in layout["reading"]["skipped"]] == [
        "bad-cell",
        "unknown-exercise",
        "other-patient",
        "damaged-result",
    ]
    measured = layout["course"]["weeks"][0]["measured"][0]["past_threshold"]["sum_s"]
    assert f"{measured['value']:.1f} ({measured['low']:.1f} to {measured['high']:.1f})" in said()


def test_days_and_the_last_day(said):
    text = said("--days", "--until", "2026-12-06")
    assert [line[:10] for line in text.splitlines() if line.startswith("2026-12-0")] == [
        f"2026-12-0{day}" for day in range(1, 7)
    ]
    assert "7 days, 2026-11-30 to 2026-12-06" in text
    # nothing to say, no heading
    assert "\nPain\n" not in said("--until", "2026-11-30")


@pytest.mark.parametrize(
    ("content", "until", "error"),
    [
        ({}, None, "must hold a plan, plan.toml or plans/*.toml"),
        ({"plan.toml": "P-0003.toml"}, None, "holds neither a recording that can be used nor a line of a diary"),
        ({"plan.toml": "P-0003.toml"}, "2026-11-01", "the last day must lie from 0 to 3660 days after the first"),
    ],
)
def test_a_folder_that_is_no_course_is_one_sentence(tmp_path, capsys, content, until, error):
    for name, source in content.items():
        shutil.copy(SAMPLE / "plans" / source, tmp_path / name)
    assert main(["progress", str(tmp_path), *(["--until", until] if until else [])]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("imu-rom: ")
    assert error in err
    assert len(err.splitlines()) == 1
