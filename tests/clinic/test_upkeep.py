"""Backup, restore, check, purge, and analysing anew, on a clinic with a little of everything."""

import json
import os
import sys
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy
from sqlalchemy import func, select, update

from imu_rom.clinic import analysis_jobs, jobs, reanalysing
from imu_rom.clinic.backup import back_up, read_backup_facts, restore
from imu_rom.clinic.checking import check
from imu_rom.clinic.configuration import read_configuration
from imu_rom.clinic.database import open_database
from imu_rom.clinic.folder_files import FolderFiles
from imu_rom.clinic.kept_recordings import files_of
from imu_rom.clinic.patients import read_patient
from imu_rom.clinic.purging import delete_patient, due_for_deletion, purge
from imu_rom.clinic.results import newest_result, results_of
from imu_rom.clinic.schema import audit_entries, clinics, metadata, patients, recording_files, recordings
from imu_rom.clinic.schema import jobs as job_rows
from imu_rom.clinic.sealing import make_key_file, read_key
from imu_rom.clinic.service import Service
from imu_rom.clinic.stored_files import open_files
from imu_rom.clinic.uploads import SentFile, receive, withdraw
from imu_rom.clinic.work_order import MADE, Outcome
from imu_rom.errors import ClinicError

sys.path.insert(0, str(Path(__file__).parent))
from clinic_rows import add_clinic, add_clinician, add_course_state, add_patient, add_plan

PLAN = Path(__file__).parents[2].joinpath("sample_recordings", "plans", "P-0001.toml").read_text("utf-8")


@pytest.fixture
def people(service):
    with service.database.writing() as connection:
        clinic_id = add_clinic(connection, retention_days=365)
        clinician_id = add_clinician(connection, clinic_id)
        patient_id, user_id = add_patient(connection, clinic_id)
        add_plan(connection, patient_id, clinician_id, PLAN, "2026-11-30")
        add_course_state(connection, patient_id, clinician_page=b"\x00\xff page")
    return {"clinic": clinic_id, "clinician": clinician_id, "patient": patient_id, "user": user_id}


def send(service, people, content=b"1,2,3\n"):
    said = {"side": "left", "exercise": "heeldrop"}
    return receive(service, people["patient"], people["user"], [SentFile("a.csv", content)], **said).recording_id


def analysed(service, tmp_path, result=b'{"invented": true}'):
    """Do the next job without an analysis: keep a result that was made up."""
    with service.database.writing() as connection:
        job = jobs.claim(connection, service.clock.now_ms())
        inputs = analysis_jobs.analysis_inputs(connection, job.recording_id)
    folder = tmp_path / f"job {time.monotonic_ns()}"
    (folder / MADE).mkdir(parents=True)
    (folder / MADE / "result.json").write_bytes(result)
    made = Outcome(plan_file=inputs.plans[-1].file_name, recorded_at="2026-12-01T18:02:00+01:00")
    analysis_jobs.keep_analysis(service, job, inputs, folder, made)


def put_now(service):
    """Have all that is stored put when the service's clock says, whatever the disk's clock says."""
    now_ns = service.clock.now_ms() * 1_000_000
    for each in service.files.names():
        os.utime(service.files._path(each), ns=(now_ns, now_ns))


def everything(database):
    with database.reading() as connection:
        return {
            table.name: sorted(map(repr, connection.execute(select(table)).all())) for table in metadata.sorted_tables
        }


def problems(service):
    return check(service).problems


@pytest.fixture
def elsewhere(service, tmp_path, request):
    """Configurations of an empty home with SQLite, and one with PostgreSQL where there is one."""
    secret = service.configuration.home / "secret.key"
    return read_configuration(tmp_path / "new home", {"IMU_ROM_SECRET_FILE": str(secret)})


def opened(configuration, clock, key=None):
    return Service(
        configuration, open_database(configuration.database_url), open_files(configuration.files_url, key), clock
    )


def test_a_backup_restores_to_the_same_in_an_empty_home(service, people, elsewhere, clock, tmp_path):
    send(service, people)
    analysed(service, tmp_path)
    send(service, people, b"4,5\n")
    before = everything(service.database)
    facts = back_up(service, tmp_path / "backup")
    assert facts.files == 3
    assert read_backup_facts(tmp_path / "backup") == facts
    assert restore(elsewhere, tmp_path / "backup") == facts
    restored = opened(elsewhere, clock)
    assert everything(restored.database) == before
    assert problems(restored) == ()
    assert sorted(restored.files.names()) == sorted(service.files.names())
    # and the one it was taken from has it in its trail, and is well
    assert problems(service) == ()
    with pytest.raises(ClinicError, match="something is kept here already"):
        restore(elsewhere, tmp_path / "backup")
    restored.database.close()


@pytest.mark.parametrize("empty_database_url", ["postgresql"], indirect=True)
@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_backup_of_sqlite_restores_into_postgresql(service, people, empty_database_url, clock, tmp_path):
    send(service, people)
    analysed(service, tmp_path)
    back_up(service, tmp_path / "backup")
    larger = read_configuration(tmp_path / "larger", {"IMU_ROM_DATABASE_URL": empty_database_url})
    restore(larger, tmp_path / "backup")
    restored = opened(larger, clock)
    before, after = everything(service.database), everything(restored.database)
    # the one entry that says that a backup was taken came afterwards
    assert len(before.pop("audit_entries")) == len(after.pop("audit_entries")) + 1
    assert after == before
    assert problems(restored) == ()
    restored.database.close()


def test_a_backup_taken_while_sessions_come_in_restores_and_passes_the_check(
    service, people, elsewhere, clock, tmp_path
):
    stop, sent, failed = threading.Event(), [], []

    def keep_sending(begin):
        number = begin
        try:
            while not stop.is_set():
                sent.append(send(service, people, b"%d\n" % number * 3000))
                number += 1
        except Exception as error:  # noqa: BLE001  shown below
            failed.append(error)

    threads = [threading.Thread(target=keep_sending, args=(begin * 10**6,)) for begin in range(3)]
    for each in threads:
        each.start()
    try:
        for number in range(3):
            before, until = len(sent), time.monotonic() + 60
            while len(sent) < before + 3 and not failed:
                assert time.monotonic() < until
                time.sleep(0.01)
            back_up(service, tmp_path / f"backup {number}")
    finally:
        stop.set()
        for each in threads:
            each.join(60)
    assert failed == []
    assert not any(each.is_alive() for each in threads)
    facts = restore(elsewhere, tmp_path / "backup 2")
    restored = opened(elsewhere, clock)
    assert problems(restored) == ()
    assert 0 < facts.rows["recordings"] <= len(sent)
    restored.database.close()


def test_a_damaged_or_cut_backup_is_refused_in_words(service, people, elsewhere, tmp_path):
    send(service, people)
    back_up(service, tmp_path / "backup")
    (kept,) = [each for each in (tmp_path / "backup" / "files").rglob("*") if each.is_file()]
    whole = kept.read_bytes()
    kept.write_bytes(b"other")
    with pytest.raises(ClinicError, match="is damaged"):
        restore(elsewhere, tmp_path / "backup")
    kept.unlink()
    with pytest.raises(ClinicError, match="must hold 1 files, got 0"):
        restore(elsewhere, tmp_path / "backup")
    kept.write_bytes(whole)
    rows = tmp_path / "backup" / "tables" / "recordings.jsonl"
    rows.write_text(rows.read_text()[:-20])
    with pytest.raises(ClinicError, match=r"recordings.jsonl:1: is damaged"):
        restore(elsewhere, tmp_path / "backup")
    rows.write_text("")
    with pytest.raises(ClinicError, match="must hold 1 rows of recordings, got 0"):
        restore(elsewhere, tmp_path / "backup")
    with pytest.raises(ClinicError, match="name the folder of a backup"):
        restore(elsewhere, tmp_path)
    with pytest.raises(ClinicError, match="exists already"):
        back_up(service, tmp_path / "backup")


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_backup_that_fails_leaves_nothing(service, people, tmp_path, monkeypatch):
    send(service, people)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(FolderFiles, "put", full)
    with pytest.raises(ClinicError, match="no space left"):
        back_up(service, tmp_path / "backup")
    assert not [each for each in tmp_path.iterdir() if "backup" in each.name]


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_backup_of_encrypted_files_is_encrypted(service, people, clock, tmp_path):
    make_key_file(tmp_path / "key")
    configuration = replace(
        service.configuration, encryption_key_file=tmp_path / "key", files_url=str(tmp_path / "sealed")
    )
    sealed = replace(
        service, configuration=configuration, files=open_files(str(tmp_path / "sealed"), read_key(tmp_path / "key"))
    )
    send(sealed, people, b"raw motion " * 100)
    back_up(sealed, tmp_path / "backup")
    assert not [
        each for each in (tmp_path / "backup").rglob("*") if each.is_file() and b"raw motion" in each.read_bytes()
    ]
    without = read_configuration(tmp_path / "no key", {})
    with pytest.raises(ClinicError, match="is encrypted, and no key is given"):
        restore(without, tmp_path / "backup")
    with_key = read_configuration(tmp_path / "with key", {"IMU_ROM_ENCRYPTION_KEY_FILE": str(tmp_path / "key")})
    restore(with_key, tmp_path / "backup")
    assert problems(opened(with_key, clock, read_key(tmp_path / "key"))) == ()


def test_the_check_finds_each_kind_of_damage(service, people, tmp_path):
    recording_id = send(service, people)
    analysed(service, tmp_path)
    assert problems(service) == ()
    with service.database.reading() as connection:
        ((_, sent),) = files_of(connection, recording_id)
        result = newest_result(connection, recording_id).files["result.json"]
    path = service.files._path(sent.sha256)
    whole = path.read_bytes()
    path.write_bytes(b"rot")
    assert any("is damaged" in each for each in problems(service))
    path.unlink()
    assert any("is missing" in each for each in problems(service))
    path.write_bytes(whole)
    service.files.remove(result.sha256)
    assert any(f"{result.sha256[:12]}" in each for each in problems(service))
    service.files.put(b'{"invented": true}')
    assert problems(service) == ()
    with service.database.writing() as connection:
        connection.execute(update(recordings).values(state="waiting"))
    assert any("waits, and nothing works on it" in each for each in problems(service))
    with service.database.writing() as connection:
        connection.execute(update(recordings).values(state="usable"))
        connection.execute(update(recording_files).values(sha256=result.sha256))
    assert any("has other files than were sent" in each for each in problems(service))
    with service.database.writing() as connection:
        connection.execute(recording_files.delete())
    assert any("has no files" in each for each in problems(service))


def test_the_check_finds_a_trail_that_was_changed(service, people, tmp_path):
    send(service, people)
    last = check(service).last
    with service.database.engine.begin() as connection:
        if service.database.is_sqlite:
            connection.exec_driver_sql("DROP TRIGGER audit_entries_no_update")
        else:
            connection.exec_driver_sql("ALTER TABLE audit_entries DISABLE TRIGGER audit_entries_no_update")
        connection.execute(update(audit_entries).values(actor_id=None))
    if not service.database.is_sqlite:
        with service.database.engine.begin() as connection:
            connection.exec_driver_sql("ALTER TABLE audit_entries ENABLE TRIGGER audit_entries_no_update")
    assert any(each.startswith("the trail") for each in problems(service))
    assert last.number == 1


def test_what_nothing_names_goes_after_a_day_and_nothing_else(service, people, clock, tmp_path):
    send(service, people)
    analysed(service, tmp_path)
    orphan = service.files.put(b"was never named")
    put_now(service)
    clock.advance(hours=1)
    assert purge(service).files == 0
    clock.advance(days=2)
    assert any("named by nothing" in each for each in check(service).notes)
    assert purge(service).files == 1
    assert not service.files.has(orphan.sha256)
    assert len(list(service.files.names())) == 2
    assert problems(service) == ()


def test_a_file_that_is_named_while_the_purge_looks_stays(service, people, clock, monkeypatch):
    content = b"was put, and is named in a moment"
    service.files.put(content)
    put_now(service)
    clock.advance(days=2)
    names = service.files.names

    def named_meanwhile():
        yield from names()
        send(service, people, content)

    monkeypatch.setattr(service.files, "names", named_meanwhile)
    assert purge(service).files == 0
    monkeypatch.undo()
    assert problems(service) == ()


def test_a_withdrawn_recording_goes_after_a_month_and_can_still_come_back(service, people, clock, tmp_path):
    recording_id = send(service, people)
    analysed(service, tmp_path)
    put_now(service)
    with service.database.writing() as connection:
        withdraw(connection, clock.now_ms(), recording_id=recording_id, actor_id=people["user"])
    clock.advance(days=29)
    assert purge(service).recordings == 0
    clock.advance(days=2)
    went = purge(service)
    assert (went.recordings, went.files) == (1, 2)
    assert list(service.files.names()) == []
    assert problems(service) == ()
    assert purge(service).recordings == 0
    assert send(service, people) == recording_id
    assert problems(service) == ()


def test_a_patient_goes_when_the_time_is_over_and_leaves_a_tombstone(service, people, clock, tmp_path):
    send(service, people)
    analysed(service, tmp_path)
    with service.database.writing() as connection:
        other, _ = add_patient(connection, people["clinic"])
        connection.execute(
            update(patients).where(patients.c.id == people["patient"]).values(deletion_asked_at_ms=clock.now_ms())
        )
    put_now(service)
    clock.advance(days=360)
    went = purge(service)
    assert (went.patients, went.waiting) == (0, 1)
    clock.advance(days=10)
    went = purge(service)
    assert (went.patients, went.waiting, went.files) == (1, 0, 2)
    with service.database.reading() as connection:
        left = {
            table.name: count
            for table in metadata.sorted_tables
            if "patient_id" in table.c
            and (count := connection.scalar(select(func.count()).where(table.c.patient_id == people["patient"])))
        }
        assert left == {}
        row = connection.execute(select(patients).where(patients.c.id == people["patient"])).one()
        assert (row.label, row.language) == ("", "")
        assert read_patient(connection, people["clinic"], other) is not None
    assert problems(service) == ()


def test_without_a_retention_period_everything_is_kept(service, people, clock):
    with service.database.writing() as connection:
        connection.execute(update(clinics).values(retention_days=None))
        connection.execute(update(patients).values(deletion_asked_at_ms=clock.now_ms()))
    clock.advance(days=36_500)
    with service.database.reading() as connection:
        assert due_for_deletion(connection, clock.now_ms()) == ()
        patient = read_patient(connection, people["clinic"], people["patient"])
    # but the owner may
    with service.database.writing() as connection:
        delete_patient(connection, clock.now_ms(), patient)
    assert problems(service) == ()


def test_a_new_version_of_the_program_analyses_all_anew_and_keeps_what_was_before(
    service, people, tmp_path, monkeypatch
):
    recording_id = send(service, people)
    analysed(service, tmp_path)
    with service.database.writing() as connection:
        assert reanalysing.ask_reanalysis(connection, service.clock.now_ms()) == 0
    for module in (reanalysing, analysis_jobs):
        monkeypatch.setattr(module, "__version__", "99.0")
    with service.database.writing() as connection:
        connection.execute(sqlalchemy.delete(job_rows).where(job_rows.c.kind == "course"))
        assert reanalysing.ask_reanalysis(connection, service.clock.now_ms()) == 1
    analysed(service, tmp_path, b'{"invented": "anew"}')
    with service.database.reading() as connection:
        first, second = results_of(connection, recording_id)
    assert (first.version, second.version, second.program_version) == (1, 2, "99.0")
    for kept, content in ((first, True), (second, "anew")):
        with service.files.open(kept.files["result.json"].sha256) as file:
            assert json.load(file) == {"invented": content}
    assert problems(service) == ()
