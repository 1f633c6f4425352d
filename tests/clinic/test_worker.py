"""From what a patient sends to what is kept of it, through a real worker and its child processes."""

import io
import json
import sys
import threading
import zipfile
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from sqlalchemy import select

from imu_rom.clinic import jobs
from imu_rom.clinic.child_process import ChildProcess
from imu_rom.clinic.course_states import course_state
from imu_rom.clinic.diary import add_line
from imu_rom.clinic.kept_recordings import files_of, list_recordings, read_recording
from imu_rom.clinic.named_files import is_named
from imu_rom.clinic.patients import read_patient
from imu_rom.clinic.results import newest_result, results_of
from imu_rom.clinic.schema import patients, recordings, session_pages
from imu_rom.clinic.sealing import Key
from imu_rom.clinic.session_pages import made_from_of, session_page_of
from imu_rom.clinic.stored_files import open_files
from imu_rom.clinic.uploads import SentFile, receive, withdraw
from imu_rom.clinic.worker import work_on_next
from imu_rom.errors import ClinicError
from imu_rom.exchange.result import parse_result

sys.path.insert(0, str(Path(__file__).parent))
from clinic_rows import add_clinic, add_clinician, add_patient, add_plan

SAMPLES = Path(__file__).parents[2] / "sample_recordings"
TRIPLET = sorted((SAMPLES / "dataset" / "sub-P0001").rglob("*_tracksys-imu_*"))
PLAN = (SAMPLES / "plans" / "P-0001.toml").read_text("utf-8")


def zipped(*entries):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in entries:
            archive.writestr(name, content)
    return packed.getvalue()


@pytest.fixture(scope="module")
def child():
    process = ChildProcess()
    yield process
    process.close()


@pytest.fixture
def people(service, clock):
    """A clinic with a clinician and a patient who has a plan, the day after the sample was recorded."""
    # 2026-12-02 12:00 UTC
    clock.at_ms = 1_796_212_800_000
    with service.database.writing() as connection:
        clinic_id = add_clinic(connection)
        clinician_id = add_clinician(connection, clinic_id)
        patient_id, user_id = add_patient(connection, clinic_id)
        add_plan(connection, patient_id, clinician_id, PLAN, "2026-11-30")
    return {"clinic": clinic_id, "clinician": clinician_id, "patient": patient_id, "user": user_id}


def sent(files=TRIPLET):
    return [SentFile(each.name, each.read_bytes()) for each in files]


def received(service, people, files=None, **said):
    given = {"side": "left", "exercise": "heeldrop"} | said
    return receive(service, people["patient"], people["user"], sent() if files is None else files, **given)


def work(service, child, tmp_path):
    """Do all that there is to do."""
    place = tmp_path / "working"
    place.mkdir(exist_ok=True)
    while work_on_next(service, child, place, threading.Event()):
        pass
    assert list(place.iterdir()) == []


def read(service, ask, *words):
    with service.database.reading() as connection:
        return ask(connection, *words)


def test_a_session_that_was_sent_has_its_result_its_course_and_its_pages(service, people, child, tmp_path):
    recording_id = received(service, people, recorded_at="2026-12-01T18:02").recording_id
    assert read(service, read_recording, recording_id).state == "waiting"
    work(service, child, tmp_path)
    kept = read(service, read_recording, recording_id)
    assert (kept.state, kept.reason, kept.made_at) == ("usable", None, "2026-12-01T18:02:00+01:00")
    result = read(service, newest_result, recording_id)
    assert set(result.files) == {"result.json", "angle.csv", "repetitions.csv", "sets.csv", "report.html"}
    with service.files.open(result.files["result.json"].sha256) as file:
        document = parse_result(file.read(), "result.json")
    assert [each.verdict for each in document.exercises[0].comparison.sets] == ["met"] * 3
    state = read(service, course_state, service.clock.now_ms(), people["patient"])
    assert state.is_current
    assert state.course["stage"] == "into range"
    assert b"heeldrop" in state.clinician_page
    assert b"heeldrop" in state.patient_page
    assert json.loads(state.attention_json)["sessions"][0]["reached"] == "yes"


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_files_that_say_their_time_in_utc_are_of_the_clinics_day(service, people, child, tmp_path):
    subject = SAMPLES / "dataset" / "sub-P0001"
    scans = "filename\tacq_time\n" + "".join(
        f"motion/{each.name}\t2026-12-01T23:30:00Z\n" for each in TRIPLET if each.name.endswith("_motion.tsv")
    )
    files = [(f"{subject.name}/motion/{each.name}", each.read_bytes()) for each in TRIPLET]
    packed = zipped((f"{subject.name}/{subject.name}_scans.tsv", scans.encode()), *files)
    recording_id = received(service, people, [SentFile("a.zip", packed)]).recording_id
    work(service, child, tmp_path)
    kept = read(service, read_recording, recording_id)
    assert (kept.state, kept.made_at, kept.day) == ("usable", "2026-12-02T00:30:00+01:00", date(2026, 12, 2))


def test_a_sessions_report_says_what_was_answered_after_it_was_sent(service, people, child, tmp_path):
    recording_id = received(service, people, recorded_at="2026-12-01T18:02").recording_id
    work(service, child, tmp_path)
    result_id = read(service, newest_result, recording_id).result_id

    def report():
        with service.files.open(read(service, session_page_of, result_id)) as file:
            return file.read().decode()

    assert "imu-rom report --course" not in report()
    assert "Pain during 7" not in report()
    with service.database.writing() as connection:
        patient = read_patient(connection, people["clinic"], people["patient"])
        told = {"pain_during": "7"}
        add_line(connection, service.clock.now_ms(), patient, people["user"], day=date(2026, 12, 1), fields=told)
        jobs.add(connection, service.clock.now_ms(), "course", people["patient"])
    before = read(service, session_page_of, result_id)
    work(service, child, tmp_path)
    assert "during 7" in report()
    # what is not named any more goes; what is named stays
    assert {before, read(service, session_page_of, result_id)} <= set(service.files.names())
    assert read(service, is_named, read(service, session_page_of, result_id))
    assert not read(service, is_named, before)
    # and where nothing changed for it, it is not made again
    with service.database.writing() as connection:
        jobs.add(connection, service.clock.now_ms(), "course", people["patient"])
        made_from = made_from_of(connection, [result_id])
        connection.execute(session_pages.update().values(sha256=before))
    work(service, child, tmp_path)
    assert read(service, made_from_of, [result_id]) == made_from
    assert read(service, session_page_of, result_id) == before


def test_the_same_files_are_the_same_session_and_are_analysed_once(service, people, child, tmp_path):
    first = received(service, people)
    work(service, child, tmp_path)
    again = received(service, people, list(reversed(sent())))
    assert (again.recording_id, first.new, again.new) == (first.recording_id, True, False)
    work(service, child, tmp_path)
    assert len(read(service, results_of, first.recording_id)) == 1
    assert len(read(service, list_recordings, people["patient"])) == 1


def test_the_same_files_of_another_patient_are_another_session(service, people):
    with service.database.writing() as connection:
        other, user = add_patient(connection, people["clinic"])
    first = received(service, people)
    second = receive(service, other, user, sent(), side="left", exercise="heeldrop")
    assert second.new
    assert second.recording_id != first.recording_id


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_withdrawn_session_counts_for_nothing_and_comes_back_when_it_is_sent_again(service, people, child, tmp_path):
    recording_id = received(service, people).recording_id
    work(service, child, tmp_path)
    with service.database.writing() as connection:
        withdraw(connection, service.clock.now_ms(), recording_id=recording_id, actor_id=people["user"])
    work(service, child, tmp_path)
    state = read(service, course_state, service.clock.now_ms(), people["patient"])
    assert state.course["reading"]["results"] == 0
    assert state.patient_page is None
    again = received(service, people)
    assert (again.recording_id, again.new) == (recording_id, False)
    work(service, child, tmp_path)
    assert read(service, read_recording, recording_id).state == "usable"
    assert read(service, course_state, service.clock.now_ms(), people["patient"]).course["reading"]["results"] == 1


@pytest.mark.parametrize(
    ("files", "said", "code", "words"),
    [
        ([SentFile("notes.csv", b"hello\nworld\n")], {}, "unreadable", "notes.csv"),
        ([SentFile("a.zip", b"PK\x03\x04 nothing")], {}, "unreadable", "damaged zip"),
        ([SentFile("a.zip", zipped(("a.csv", b"0" * 40_000_000)))], {}, "unreadable", "too large when it is unpacked"),
        ([SentFile("a.zip", zipped(("../../a.csv", b"1")))], {}, "unreadable", "a place outside of itself"),
        ([SentFile("a.csv", b"a,b\n" + b'"' * 3_000_000)], {}, "unreadable", "a.csv"),
        ([SentFile("a.csv", b"x," * 500_000)], {}, "unreadable", "a.csv"),
        ([SentFile("photo.jpg", b"\xff\xd8\xff")], {}, "unreadable", "there is no recording"),
        (None, {"side": "right"}, "other-side", "the plan has heeldrop on the left side"),
        (None, {"exercise": "floorraise"}, "not-of-the-plan", "exercise must be one of heeldrop"),
    ],
)
@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_what_cannot_be_used_says_why_and_can_be_mended(service, people, child, tmp_path, files, said, code, words):
    recording_id = received(service, people, files, **said).recording_id
    work(service, child, tmp_path)
    kept = read(service, read_recording, recording_id)
    assert (kept.state, kept.reason_code) == ("unusable", code)
    assert words in kept.reason
    assert str(tmp_path) not in kept.reason
    if said:
        # the patient says it anew
        assert received(service, people).recording_id == recording_id
        work(service, child, tmp_path)
        assert read(service, read_recording, recording_id).state == "usable"


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_zip_is_the_recording_in_it(service, people, child, tmp_path):
    packed = tmp_path / "session.zip"
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for each in (SAMPLES / "dataset" / "sub-P0001").rglob("*.*"):
            archive.write(each, each.relative_to(SAMPLES))
    recording_id = received(service, people, sent([packed])).recording_id
    work(service, child, tmp_path)
    assert read(service, read_recording, recording_id).state == "usable"


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_without_a_plan_it_waits_for_one_in_words(service, people, child, tmp_path):
    with service.database.writing() as connection:
        other, user = add_patient(connection, people["clinic"])
    recording_id = receive(service, other, user, sent(), side="left", exercise="heeldrop").recording_id
    work(service, child, tmp_path)
    assert read(service, read_recording, recording_id).reason_code == "no-plan"
    with service.database.writing() as connection:
        add_plan(connection, other, people["clinician"], PLAN, "2026-11-30")
        jobs.add(connection, service.clock.now_ms(), "analyse", other, recording_id)
    work(service, child, tmp_path)
    assert read(service, read_recording, recording_id).state == "usable"


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
@pytest.mark.parametrize("url", ["sealed", "memory://worker"])
def test_sessions_are_analysed_from_encrypted_files_and_from_an_object_store(service, people, child, tmp_path, url):
    own = replace(service, files=open_files(url if "://" in url else str(tmp_path / url), Key(bytes(32))))
    recording_id = received(own, people).recording_id
    work(own, child, tmp_path)
    result = read(own, newest_result, recording_id)
    with own.files.open(result.files["result.json"].sha256) as file:
        assert parse_result(file.read(), "result.json").exercises
    # nothing of it stands in the open
    left = [each for each in tmp_path.rglob("*") if each.is_file() and "clinic.sqlite" not in each.name]
    assert not [each for each in left if b"heeldrop" in each.read_bytes()]


def test_one_that_was_given_up_is_tried_again_when_it_is_sent_again(service, people):
    recording_id = received(service, people).recording_id
    with service.database.writing() as connection:
        job = jobs.claim(connection, service.clock.now_ms())
        assert jobs.fail(connection, service.clock.now_ms(), job, "it failed", most_attempts=1)
    assert read(service, read_recording, recording_id).state == "not analysed"
    received(service, people)
    assert read(service, read_recording, recording_id).state == "waiting"
    received(service, people)
    with service.database.reading() as connection:
        assert sorted(each.state for each in jobs.jobs_of(connection, people["patient"])) == ["given_up", "waiting"]


def test_what_is_too_much_is_refused_before_anything_is_kept(service, people):
    few = service.configuration.limits.upload_files
    for files, said, words in (
        ([], {}, "1 to 32 files, got 0"),
        ([SentFile(f"{number}.csv", b"1") for number in range(few + 1)], {}, "1 to 32 files, got 33"),
        ([SentFile("a.csv", b"")], {}, "are empty"),
        (None, {"side": "both"}, "left or right"),
        (None, {"exercise": " "}, "must be chosen"),
        (None, {"recorded_at": "2027-01-01"}, "in the future"),
        (None, {"recorded_at": "yesterday"}, "must be like 2026-12-01"),
    ):
        with pytest.raises(ClinicError, match=words):
            received(service, people, files, **said)
    with service.database.reading() as connection:
        assert connection.execute(select(recordings)).all() == []


@pytest.mark.parametrize(
    "name", ["../../../etc/passwd", "C:\\x\\..\\a.csv", "a\x00b.csv", "", "..", "ü" * 300 + ".csv"]
)
def test_names_from_phones_become_plain_ones(service, people, name):
    recording_id = received(service, people, [SentFile(name, b"1"), SentFile(name, b"2")]).recording_id
    with service.database.reading() as connection:
        names = [each for each, _ in files_of(connection, recording_id)]
    assert len(set(names)) == 2
    for each in names:
        assert Path(each).name == each
        assert each not in {"", ".", ".."}
        assert len(each) <= 160
        assert "\x00" not in each


def test_a_patient_who_was_retired_can_send_nothing_more(service, people):
    with service.database.writing() as connection:
        connection.execute(patients.update().values(retired_at_ms=1))
    with pytest.raises(ClinicError, match="nothing more is taken in"):
        received(service, people)
