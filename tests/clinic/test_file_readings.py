"""How a logger's files are read: said once by the clinic, used by the worker, never a riddle for the patient."""

import csv
import io
import json
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import select

from imu_rom.clinic import audit
from imu_rom.clinic.child_process import ChildProcess
from imu_rom.clinic.file_readings import FileReading, add_file_reading, file_readings, newest_file_reading
from imu_rom.clinic.kept_recordings import read_recording
from imu_rom.clinic.results import newest_result
from imu_rom.clinic.schema import audit_entries, jobs
from imu_rom.clinic.uploads import SentFile, receive
from imu_rom.errors import ClinicError
from imu_rom.exchange.result import parse_result

sys.path.insert(0, str(Path(__file__).parent))
from clinic_rows import add_clinic, add_clinician, add_patient, add_plan
from test_worker import PLAN, TRIPLET, work

FIELDS = ("shank.acc", "shank.gyro", "foot.acc", "foot.gyro")


@pytest.fixture(scope="module")
def child():
    process = ChildProcess()
    yield process
    process.close()


@pytest.fixture
def people(service, clock):
    """A clinic with a clinician and a patient who has a plan, the day after the sample was recorded."""
    clock.at_ms = 1_796_212_800_000
    with service.database.writing() as connection:
        clinic_id = add_clinic(connection)
        clinician_id = add_clinician(connection, clinic_id)
        patient_id, user_id = add_patient(connection, clinic_id)
        add_plan(connection, patient_id, clinician_id, PLAN, "2026-11-30")
    return {"clinic_id": clinic_id, "author_id": clinician_id, "patient_id": patient_id}, user_id


@pytest.fixture(scope="module")
def bare():
    """The sample's numbers as a logger without headings, units or stamps writes them, and what its columns are."""
    motion = next(each for each in TRIPLET if each.name.endswith("_motion.tsv"))
    channels = next(each for each in TRIPLET if each.name.endswith("_channels.tsv"))
    listed = list(csv.DictReader(io.StringIO(channels.read_text()), delimiter="\t"))
    places = {}
    for at, each in enumerate(listed, 1):
        kind = {"ACCEL": "acc", "GYRO": "gyro"}.get(each["type"])
        if kind:
            places.setdefault(f"{each['tracked_point']}.{kind}", []).append(str(at))
    units = {each["type"]: each["units"] for each in listed}
    sidecar = next(each for each in TRIPLET if each.name.endswith("_motion.json"))
    rate = str(json.loads(sidecar.read_text())["SamplingFrequency"])
    reading = FileReading.of(
        {
            "columns": "\n".join(f"{name}={','.join(columns)}" for name, columns in places.items()),
            "accelerometer_unit": units["ACCEL"],
            "gyroscope_unit": units["GYRO"],
            "rate_hz": rate,
        }
    )
    return [SentFile("run.csv", motion.read_bytes().replace(b"\t", b","))], reading


def keep(service, people, reading, based_on=0):
    with service.database.writing() as connection:
        return add_file_reading(connection, service.clock.now_ms(), **people[0], reading=reading, based_on=based_on)


def read(service, ask, *words):
    with service.database.reading() as connection:
        return ask(connection, *words)


def test_a_file_that_leaves_all_open_is_read_after_the_clinic_has_said_how(service, people, bare, child, tmp_path):
    files, reading = bare
    recording_id = receive(
        service, people[0]["patient_id"], people[1], files, side="left", exercise="heeldrop", recorded_at="2026-12-01"
    ).recording_id
    work(service, child, tmp_path)
    kept = read(service, read_recording, recording_id)
    # the clinician is told exactly, in a code by which the patient is sent to the clinic
    assert (kept.state, kept.reason_code) == ("unusable", "left-open")
    assert "name the columns with --columns" in kept.reason
    assert keep(service, people, reading) == 1
    work(service, child, tmp_path)
    kept = read(service, read_recording, recording_id)
    assert (kept.state, kept.reason_code, kept.reason) == ("usable", None, None)
    with service.files.open(read(service, newest_result, recording_id).files["result.json"].sha256) as file:
        document = parse_result(file.read(), "result.json")
    # as of the same recording with its sidecars
    assert [each.verdict for each in document.exercises[0].comparison.sets] == ["met"] * 3
    assert any(each.code == "read-as-said" and reading.gyroscope_unit in each.sentence for each in document.findings)


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_two_files_are_told_apart_by_the_words_that_the_clinic_says(service, people, bare, child, tmp_path):
    rows = [line.split(b",") for line in bare[0][0].content.splitlines()]
    # shank and foot stand in six columns each
    halves = [b"\n".join(b",".join(row[at : at + 6]) for row in rows) for at in (0, 6)]
    files = [SentFile(name, half) for name, half in zip(("run_two.csv", "run_one.csv"), halves, strict=True)]
    said = {"side": "left", "exercise": "heeldrop", "recorded_at": "2026-12-01"}
    recording_id = receive(service, people[0]["patient_id"], people[1], files, **said).recording_id
    work(service, child, tmp_path)
    assert read(service, read_recording, recording_id).reason_code == "left-open"
    reading = replace(bare[1], columns="acc=1,2,3; gyro=4,5,6", proximal_name="TWO", distal_name="one")
    keep(service, people, reading)
    work(service, child, tmp_path)
    assert read(service, read_recording, recording_id).state == "usable"
    with service.files.open(read(service, newest_result, recording_id).files["result.json"].sha256) as file:
        document = parse_result(file.read(), "result.json")
    assert [each.verdict for each in document.exercises[0].comparison.sets] == ["met"] * 3


def test_versions_are_kept_with_their_entries_and_ask_for_analyses(service, people, bare):
    reading = bare[1]
    assert read(service, newest_file_reading, people[0]["patient_id"]) == FileReading()
    assert keep(service, people, reading) == 1
    # the same again is no new version
    assert keep(service, people, reading, 1) == 1
    assert keep(service, people, FileReading(rate_hz="100"), 1) == 2
    with pytest.raises(ClinicError, match="somebody else"):
        keep(service, people, reading, 1)
    versions = read(service, file_readings, people[0]["patient_id"])
    assert [(each.version, each.reading) for each in versions] == [(2, FileReading(rate_hz="100")), (1, reading)]
    with service.database.reading() as connection:
        said = connection.scalars(select(audit_entries.c.action)).all()
        assert said.count("write file reading") == 2
        assert audit.verify(connection).broken is None
        assert connection.scalars(select(jobs.c.id)).all() == []


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("columns", "shank.acc=1,2", "must name 3 columns, not 2"),
        ("columns", "shank.force=1,2,3", "KIND time, acc, gyro or mag"),
        ("accelerometer_unit", "deg/s", "deg/s"),
        ("gyroscope_unit", "furlong", "furlong"),
        ("rate_hz", "-5", "positive number"),
        ("rate_hz", "nan", "positive number"),
        ("separator", "pipe", "must be one of tab, comma, semicolon"),
        ("proximal_name", "shank", "two words"),
        ("columns", "time=1\0", "plain letters"),
        ("columns", "time=1;" * 200, "at most 1000"),
    ],
)
def test_what_can_not_be_meant_is_refused_at_its_field(field, value, said):
    with pytest.raises(ClinicError, match=said) as refused:
        FileReading.of({field: value})
    assert refused.value.where == ("distal_name" if field == "proximal_name" else field)
