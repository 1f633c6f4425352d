"""``imu-rom report``: the page again from the folder of a result, and nothing else."""

import json
import re
import shutil
from pathlib import Path

import pytest

from imu_rom_cli import main


@pytest.fixture(scope="module")
def analysed(recording, plan, tmp_path_factory):
    out = tmp_path_factory.mktemp("analysed") / "result"
    assert main(["analyse", str(recording), "--plan", str(plan), "--out", str(out)]) == 0
    return out


@pytest.fixture
def result(analysed, tmp_path):
    return shutil.copytree(analysed, tmp_path / "result")


def test_the_page_from_the_folder_is_the_page_of_the_analysis(result, run, tmp_path):
    code, out, err = run("report", result, "--out", tmp_path / "page.html")
    assert (code, out, err) == (0, "", f"Written to {tmp_path / 'page.html'}.\n")
    assert (tmp_path / "page.html").read_bytes() == (result / "report.html").read_bytes()


def test_it_reads_result_and_angle_alone(result, run):
    for name in ("repetitions.csv", "sets.csv", "report.html"):
        (result / name).unlink()
    assert run("report", result)[0] == 0
    assert (result / "report.html").stat().st_size > 3e6


def test_a_page_is_replaced_only_where_that_is_asked_for(result, run, refused, tmp_path):
    before = (result / "report.html").read_bytes()
    assert "report.html: exists already; " in refused("report", result)
    assert run("report", result, "--overwrite")[0] == 0
    assert (result / "report.html").read_bytes() == before
    other = tmp_path / "notes.html"
    other.write_text("my notes")
    assert "exists and is of another kind" in refused("report", result, "--out", other, "--overwrite")
    assert other.read_text() == "my notes"


def test_what_is_no_result_is_refused_in_a_sentence(result, refused, tmp_path):
    assert "is not there" in refused("report", tmp_path / "nothing")
    (tmp_path / "empty").mkdir()
    assert "holds neither a result.json nor a plan.toml or plans/" in refused("report", tmp_path / "empty")
    assert "is no folder" in refused("report", result / "result.json")
    (result / "angle.csv").rename(tmp_path / "angle.csv")
    assert "angle.csv: is missing" in refused("report", result, "--overwrite")
    lines = (tmp_path / "angle.csv").read_text().splitlines(keepends=True)
    (result / "angle.csv").write_text("".join(lines[:-3]))
    assert "samples as the result.json beside it" in refused("report", result, "--overwrite")
    (result / "result.json").write_text("{")
    assert "is damaged" in refused("report", result, "--overwrite")


SAMPLE = Path(__file__).parents[2] / "sample_recordings" / "course"


def test_a_course_has_a_page_which_changes_nothing_in_its_folder(run, refused, tmp_path):
    course = shutil.copytree(SAMPLE, tmp_path / "course")
    before = set(course.rglob("*"))
    page = tmp_path / "page.html"
    assert run("report", course, "--out", page) == (0, "", f"Written to {page}.\n")
    assert set(course.rglob("*")) == before
    assert "Criteria of stage &#39;to +10 deg&#39;" in page.read_text()
    assert run("report", course, "--out", page, "--until", "2027-01-02", "--overwrite")[0] == 0
    assert "stop these exercises" in page.read_text()
    # nor is anything written over that the page was made from
    assert "exists and can't be replaced" in refused("report", course, "--out", course / "diary.csv", "--overwrite")


def test_a_course_has_a_page_for_the_patient_too(run, refused, tmp_path):
    page = tmp_path / "patient.html"
    asks = ("report", SAMPLE, "--for", "patient", "--out", page)
    assert run(*asks) == (0, "", f"Written to {page}.\n")
    assert "halfdrop 13 times" in page.read_text()
    assert run(*asks, "--language", "de", "--until", "2027-01-02", "--overwrite")[0] == 0
    assert "Das haben Sie notiert" in page.read_text() or "von 10. Hören Sie auf" in page.read_text()
    assert "language must be one of en, de" in refused(*asks, "--language", "xx", "--overwrite")


def test_a_session_of_a_course_says_pain_and_what_changed_since_the_last_review(result, plan, run, refused, tmp_path):
    alone = (result / "report.html").read_text()
    assert "stand in the course, which this page was not given (imu-rom report --course)." in alone
    course = tmp_path / "course"
    course.mkdir()
    shutil.copy(plan, course / "plan.toml")
    recorded_at = json.loads((result / "result.json").read_text())["recorded_at"]
    (course / "diary.csv").write_text(f"date,pain_during,pain_next_morning\n{recorded_at[:10]},6,2\n")
    page = tmp_path / "page.html"
    assert run("report", result, "--course", course, "--out", page) == (0, "", f"Written to {page}.\n")
    told = page.read_text()
    assert "First of all" in told
    assert re.search(r"Highest of .*, of 10: during 6", told)
    assert "last review" in told or "no day of a review is known" in told
    assert told.index(">Limit<") < told.index(">Pain<") < told.index(">Since review<") < told.index(">Not told<")
    assert "course: diary diary.csv" in told
    # nothing that the page is made from is written over, and a course has no course
    assert "exists and can't be replaced" in refused(
        "report", result, "--course", course, "--out", course / "diary.csv", "--overwrite"
    )
    assert "--course is for the clinician's page of a result" in refused("report", SAMPLE, "--course", course)
    assert "there is no such folder" in refused("report", result, "--course", tmp_path / "none", "--overwrite")


def test_what_is_for_a_course_is_refused_for_a_result(result, refused):
    assert "--until and --settings are for the folder of a course" in refused("report", result, "--until", "2027-01-02")


def test_the_patients_page_needs_the_result_alone(result, run):
    for name in ("angle.csv", "report.html"):
        (result / name).unlink()
    code, out, err = run("report", result, "--for", "patient")
    assert (code, out, err) == (0, "", f"Written to {result / 'patient.html'}.\n")
    page = (result / "patient.html").read_text("utf-8")
    assert "<h1>Your exercises on 3 December 2026</h1>" in page
    assert run("report", result, "--for", "patient", "--language", "de", "--overwrite")[0] == 0
    assert "<h1>Ihre Übungen am 3. Dezember 2026</h1>" in (result / "patient.html").read_text("utf-8")


def test_a_language_that_is_not_there_is_a_sentence(result, refused):
    assert "language must be one of en, de, got 'xx'." in refused(
        "report", result, "--for", "patient", "--language", "xx"
    )
    assert not (result / "patient.html").exists()
    assert "--language is of the patient's page" in refused("report", result, "--language", "de", "--overwrite")


def test_a_new_result_takes_the_place_of_a_patients_page_too(result, run, recording, plan):
    assert run("report", result, "--for", "patient")[0] == 0
    assert run("analyse", recording, "--plan", plan, "--out", result, "--overwrite")[0] == 0
    assert not (result / "patient.html").exists()


def test_a_page_is_written_as_pdf_where_that_is_asked_for(run, refused, result, tmp_path):
    pytest.importorskip("weasyprint", exc_type=(ImportError, OSError))
    out = tmp_path / "course.pdf"
    assert run("report", SAMPLE, "--pdf", "--until", "2026-12-20", "--out", out) == (0, "", f"Written to {out}.\n")
    assert out.read_bytes().startswith(b"%PDF")
    assert run("report", result, "--pdf")[0] == 0
    assert (result / "report.pdf").read_bytes().startswith(b"%PDF")
    assert "exists already" in refused("report", result, "--pdf")
    assert run("report", result, "--pdf", "--for", "patient", "--language", "de")[0] == 0
    assert (result / "patient.pdf").read_bytes().startswith(b"%PDF")
