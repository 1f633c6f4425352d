"""What can go wrong around a worker goes wrong here: disk, database, memory, clock, and kill -9 at any point."""

import contextlib
import fcntl
import os
import random
import signal
import sqlite3
import subprocess
import sys
import textwrap
import threading
import time
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import func, select

from imu_rom.clinic import database as database_module
from imu_rom.clinic import jobs, worker
from imu_rom.clinic.analysis_jobs import analysis_inputs, lay_out_analysis
from imu_rom.clinic.checking import check
from imu_rom.clinic.child_process import ChildProcess
from imu_rom.clinic.course_states import course_state
from imu_rom.clinic.database import open_database
from imu_rom.clinic.folder_files import FolderFiles
from imu_rom.clinic.kept_recordings import read_recording
from imu_rom.clinic.results import results_of
from imu_rom.clinic.schema import jobs as job_rows
from imu_rom.clinic.schema import recordings, result_versions
from imu_rom.clinic.serving import ENDS_WITHIN_S
from imu_rom.clinic.uploads import SentFile, receive
from imu_rom.errors import BusyError, ClinicError

sys.path.insert(0, str(Path(__file__).parent))
from clinic_rows import add_clinic, add_clinician, add_patient, add_plan
from short_sessions import PLAN, simulated

SESSIONS = 3


@pytest.fixture(scope="module")
def sessions(tmp_path_factory):
    return simulated(tmp_path_factory.mktemp("sessions"), SESSIONS)


@pytest.fixture(scope="module")
def child():
    process = ChildProcess()
    yield process
    process.close()


@pytest.fixture
def people(service, clock):
    # 2026-12-02 12:00 UTC
    clock.at_ms = 1_796_212_800_000
    with service.database.writing() as connection:
        clinic_id = add_clinic(connection)
        clinician_id = add_clinician(connection, clinic_id)
        patients = [add_patient(connection, clinic_id) for _ in range(SESSIONS)]
        for patient_id, _ in patients:
            add_plan(connection, patient_id, clinician_id, PLAN, "2026-11-01")
    return patients


def send(service, person, session, **said):
    files = [SentFile(name, content) for name, content in session.items()]
    given = {"side": "left", "exercise": "drop", "recorded_at": "2026-12-01"} | said
    return receive(service, *person, files, **given).recording_id


def work(service, child, folder, times=100):
    folder.mkdir(exist_ok=True)
    did = 0
    while did < times and worker.work_on_next(service, child, folder, threading.Event()):
        did += 1
    return did


LONGEST_S = 60


def wait_until(true, seconds=LONGEST_S):
    until = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < until
        time.sleep(0.02)


def held(folder):
    """Have whoever reads the order in this folder wait for it for ever."""
    (folder / "order.json").unlink()
    os.mkfifo(folder / "order.json")


@pytest.fixture
def jobs_hang(monkeypatch):
    """The child waits where it reads its order, so that what is done to it meanwhile is done in mid job."""

    def lay_out(service, inputs, folder):
        lay_out_analysis(service, inputs, folder)
        held(folder)

    monkeypatch.setattr(worker, "lay_out_analysis", lay_out)


def states(service):
    with service.database.reading() as connection:
        return sorted(connection.scalars(select(recordings.c.state)))


def only_job(service):
    with service.database.reading() as connection:
        return connection.execute(select(job_rows).where(job_rows.c.kind == "analyse")).one()


# ------------------------------------------------------------------------------------------------------ a full disk


@pytest.fixture
def small_disk(tmp_path):
    """A disk of one megabyte."""
    place = tmp_path / "small disk"
    place.mkdir()
    made = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=1m", "imu-rom-test", str(place)], check=False)
    if made.returncode:
        pytest.skip("no small disk can be mounted here: that needs root")
    yield place
    subprocess.run(["umount", "--lazy", str(place)], check=True)


def test_a_full_disk_refuses_an_upload_in_words_and_keeps_nothing_of_it(service, people, small_disk, sessions):
    full = replace(service, files=FolderFiles(small_disk / "files"))
    with pytest.raises(ClinicError, match="can't be kept: no space left"):
        send(full, people[0], sessions[0])
    assert states(service) == []
    left = [each for each in small_disk.rglob("*") if each.is_file() and "coming" in each.parts]
    assert left == []
    # what came first of the same upload is named by nothing; there is room for a smaller one
    for each in list(full.files.names()):
        full.files.remove(each)
    recording_id = receive(
        full, *people[0], [SentFile("a.csv", b"1,2\n" * 1000)], side="left", exercise="drop"
    ).recording_id
    with service.database.reading() as connection:
        assert read_recording(connection, recording_id).state == "waiting"


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_worker_on_a_full_disk_puts_the_job_back_and_does_it_when_there_is_room(
    service, people, child, small_disk, sessions, tmp_path, clock
):
    send(service, people[0], sessions[0])
    assert work(service, child, small_disk / "working") == 0
    assert (only_job(service).state, only_job(service).attempts) == ("waiting", 0)
    assert list((small_disk / "working").iterdir()) == []
    # and where it is the store that is full
    filler = small_disk / "filler"
    filler.write_bytes(b"0" * 900_000)
    full = replace(service, files=_ReadElsewhere(small_disk / "files", service.files))
    clock.advance(minutes=1)
    work(full, child, tmp_path / "working", times=1)
    assert only_job(service).state == "waiting"
    filler.unlink()
    (small_disk / "working").rmdir()
    clock.advance(minutes=1)
    work(service, child, tmp_path / "working")
    assert states(service) == ["usable"]


class _ReadElsewhere(FolderFiles):
    """Keeps on one disk, and reads from another."""

    def __init__(self, folder, other):
        super().__init__(folder)
        self.other = other

    def open(self, sha256):
        return self.other.open(sha256)

    def has(self, sha256):
        return self.other.has(sha256) or super().has(sha256)


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_database_on_a_full_disk_loses_nothing_that_was_answered(service, people, small_disk, sessions, tmp_path):
    service.database.close()
    path = small_disk / "clinic.sqlite"
    with sqlite3.connect(tmp_path / "clinic.sqlite") as before, sqlite3.connect(path) as after:
        before.backup(after)
    before.close()
    after.close()
    full = replace(service, database=open_database(f"sqlite:///{path}"))
    sent, refused = [], None
    for number in range(2000):
        try:
            content = b"%d\n" % number
            sent.append(
                receive(full, *people[0], [SentFile("a.csv", content)], side="left", exercise="drop").recording_id
            )
        except BusyError as error:
            refused = error
            break
    assert "full" in str(refused)
    assert sent
    full.database.close()
    full = replace(service, database=open_database(f"sqlite:///{path}"))
    with full.database.reading() as connection:
        assert set(connection.scalars(select(recordings.c.id))) == set(sent)
    assert check(full).problems == ()
    full.database.close()


# ------------------------------------------------------------------------------------------------ a locked database


def test_a_result_outlives_a_database_that_is_locked_for_a_while(
    service, people, child, sessions, tmp_path, monkeypatch, configuration
):
    monkeypatch.setattr(database_module, "BUSY_TIMEOUT_MS", 50)
    monkeypatch.setattr(worker, "KEEP_ATTEMPTS", 8)
    impatient = replace(service, database=open_database(configuration.database_url))
    recording_id = send(service, people[0], sessions[0])
    keep, locked, refused = worker.keep_analysis, threading.Event(), threading.Event()

    def lock_first(*given):
        if not locked.is_set():
            holder.start()
            assert locked.wait(LONGEST_S)
        try:
            keep(*given)
        except BusyError:
            refused.set()
            raise

    def hold():
        with service.database.writing():
            locked.set()
            refused.wait(LONGEST_S)

    holder = threading.Thread(target=hold)
    monkeypatch.setattr(worker, "keep_analysis", lock_first)
    assert work(impatient, child, tmp_path / "working", times=1) == 1
    holder.join(LONGEST_S)
    assert refused.is_set()
    with service.database.reading() as connection:
        assert read_recording(connection, recording_id).state == "usable"
        assert len(results_of(connection, recording_id)) == 1
    assert only_job(service).attempts == 1
    impatient.database.close()


# --------------------------------------------------------------------------------------------- the process that works


def limited(service, **limits):
    given = replace(service.configuration.limits, **limits)
    return replace(service, configuration=replace(service.configuration, limits=given))


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_out_of_memory_is_tried_again_and_then_given_up_in_words(service, people, child, sessions, tmp_path, clock):
    poor = limited(service, analysis_memory_mib=12)
    # half an hour and more
    longer = {name: content * (12 if name.endswith("_motion.tsv") else 1) for name, content in sessions[0].items()}
    recording_id = send(service, people[0], longer)
    for attempt in range(1, 4):
        work(poor, child, tmp_path / "working")
        assert only_job(service).attempts == attempt
        clock.advance(minutes=10)
    assert only_job(service).state == "given_up"
    with service.database.reading() as connection:
        kept = read_recording(connection, recording_id)
    assert (kept.state, kept.reason_code) == ("not analysed", "gave-up")
    assert kept.reason == "it needed more memory than it may have"
    # the worker itself is well, and one asked for again with more memory is done
    with service.database.writing() as connection:
        jobs.add(connection, clock.now_ms(), "analyse", people[0][0], recording_id)
    work(service, child, tmp_path / "working")
    assert states(service) == ["usable"]


def laid_out(service, recording_id, folder):
    with service.database.reading() as connection:
        inputs = analysis_inputs(connection, recording_id)
    folder.mkdir()
    lay_out_analysis(service, inputs, folder)


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_one_that_takes_too_long_is_ended_and_the_next_is_done(service, people, child, sessions, tmp_path):
    recording_id = send(service, people[0], sessions[0])
    laid_out(service, recording_id, tmp_path / "one")
    held(tmp_path / "one")
    ended = child.run("analyse", tmp_path / "one", memory_mb=2000, seconds=0.05, meanwhile=lambda: None)
    assert ended.how == "time"
    laid_out(service, recording_id, tmp_path / "two")
    ended = child.run("analyse", tmp_path / "two", memory_mb=2000, seconds=60, meanwhile=lambda: None)
    assert ended.how == "done"
    assert ended.peak_mb > 50
    # a fork is safe only where there is no other thread
    assert len(list(Path(f"/proc/{child._process.pid}/task").iterdir())) == 1


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_one_that_hangs_is_ended_long_before_its_time(service, people, child, sessions, tmp_path):
    recording_id = send(service, people[0], sessions[0])
    laid_out(service, recording_id, tmp_path / "one")
    held(tmp_path / "one")
    ended = child.run("analyse", tmp_path / "one", memory_mb=2000, seconds=60, idle_seconds=1, meanwhile=lambda: None)
    assert ended.how == "idle"
    assert ended.seconds < 30


@pytest.mark.skipif(sys.platform != "linux", reason="only there a process is told that its parent ended")
def test_a_process_whose_parent_ended_before_it_could_ask_to_be_told_ends_too():
    code = "from imu_rom.clinic.warm_process import _end_with_parent as end; end({}); print('goes on')"
    for parent, said in (("__import__('os').getppid()", b"goes on\n"), ("0", b"")):
        words = [sys.executable, "-c", code.format(parent)]
        assert subprocess.run(words, stdout=subprocess.PIPE, check=False, timeout=LONGEST_S).stdout == said


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_an_error_that_nobody_foresaw_is_said_without_its_words(service, people, child, sessions, tmp_path):
    recording_id = send(service, people[0], sessions[0])
    laid_out(service, recording_id, tmp_path / "one")
    (tmp_path / "one" / "order.json").write_text('{"secret words": 1}')
    ended = child.run("analyse", tmp_path / "one", memory_mb=2000, seconds=60, meanwhile=lambda: None)
    assert (ended.how, ended.detail.split(" in ")[0]) == ("trouble", "TypeError")
    assert "secret" not in ended.detail


def below(pid):
    """All processes that descend from one."""
    found = set()
    with contextlib.suppress(OSError):
        for each in map(int, Path(f"/proc/{pid}/task/{pid}/children").read_text().split()):
            found |= {each} | below(each)
    return found


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_process_that_is_killed_fails_one_attempt_and_no_more(
    service, people, child, sessions, tmp_path, clock, jobs_hang, monkeypatch
):
    send(service, people[0], sessions[0])

    def kill_soon(which):
        wait_until(lambda: child._process is not None and below(child._process.pid))
        children = below(child._process.pid)
        os.kill(child._process.pid if which == "the process that forks" else children.pop(), signal.SIGKILL)

    for attempt, which in ((1, "its child"), (2, "the process that forks")):
        killer = threading.Thread(target=kill_soon, args=(which,))
        killer.start()
        work(service, child, tmp_path / "working")
        killer.join(LONGEST_S)
        assert (only_job(service).state, only_job(service).attempts) == ("waiting", attempt)
        assert only_job(service).why.startswith("its process ended without a word")
        clock.advance(minutes=1)
    monkeypatch.undo()
    work(service, child, tmp_path / "working")
    assert states(service) == ["usable"]


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_worker_that_is_asked_to_stop_puts_its_job_back_at_once(service, people, sessions, jobs_hang):
    send(service, people[0], sessions[0])
    stop = threading.Event()
    running = threading.Thread(target=worker.run_worker, args=(service, stop))
    running.start()
    try:
        wait_until(lambda: only_job(service).state == "running")
        began = time.monotonic()
    finally:
        stop.set()
        running.join(LONGEST_S)
    # a server kills the worker beside it that takes longer
    assert time.monotonic() - began < ENDS_WITHIN_S
    assert (only_job(service).state, only_job(service).attempts) == ("waiting", 0)
    assert list((service.configuration.home / "working").iterdir()) == []


def test_a_worker_that_starts_beside_another_does_not_lose_its_folder(tmp_path, monkeypatch):
    flock, others = fcntl.flock, [1, 2]

    def late(lock, how):
        # before this one has its lock, another starts, and looks for folders of workers that were killed
        if how == fcntl.LOCK_EX and others:
            others.pop()
            with worker._working_folder(tmp_path):
                pass
        flock(lock, how)

    monkeypatch.setattr(fcntl, "flock", late)
    with worker._working_folder(tmp_path) as folder:
        assert others == []
        assert folder.is_dir()
        with worker._working_folder(tmp_path) as beside:
            assert sorted(tmp_path.iterdir()) == sorted([folder, beside])
    assert list(tmp_path.iterdir()) == []


# ----------------------------------------------------------------------------------------------------------- the clock


@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_clock_that_is_set_back_keeps_nothing_from_being_done(service, people, child, sessions, tmp_path, clock):
    recording_id = send(service, people[0], sessions[0])
    with service.database.writing() as connection:
        jobs.claim(connection, clock.now_ms())
    # its worker is killed, and the clock set back by a month
    clock.advance(days=-30)
    other = send(service, people[1], sessions[1], recorded_at=None)
    work(service, child, tmp_path / "working")
    with service.database.reading() as connection:
        assert [len(results_of(connection, each)) for each in (recording_id, other)] == [1, 1]
    assert check(service).problems == ()


# --------------------------------------------------------------------------------------------------- kill -9 anywhere

WORKER = """
import sys, threading
from pathlib import Path
from imu_rom.clinic import jobs, worker
from imu_rom.clinic.clock import SystemClock
from imu_rom.clinic.configuration import read_configuration
from imu_rom.clinic.service import open_service
jobs.LEASE_MS, worker.RENEW_S, worker.IDLE_S = 1500, 0.3, 0.05
class Clock(SystemClock):
    def now_ms(self):
        return super().now_ms() + int(sys.argv[3])
service = open_service(read_configuration(Path(sys.argv[1]), {"IMU_ROM_DATABASE_URL": sys.argv[2]}), Clock())
worker.run_worker(service, threading.Event())
"""

SENDER = """
import sys
from pathlib import Path
from imu_rom.clinic.clock import SystemClock
from imu_rom.clinic.configuration import read_configuration
from imu_rom.clinic.service import open_service
from imu_rom.clinic.uploads import SentFile, receive
service = open_service(read_configuration(Path(sys.argv[1]), {"IMU_ROM_DATABASE_URL": sys.argv[2]}), SystemClock())
number = int(sys.argv[5])
while True:
    number += 1
    files = [SentFile("a.csv", b"%d\\n" % number * 200_000), SentFile("b.csv", b"%d;\\n" % number)]
    print(receive(service, sys.argv[3], sys.argv[4], files, side="left", exercise="drop").recording_id, flush=True)
"""


def started(code, *words, **others):
    return subprocess.Popen([sys.executable, "-c", textwrap.dedent(code), *map(str, words)], **others)


@pytest.mark.long
@pytest.mark.parametrize("database_url", ["sqlite"], indirect=True)
def test_a_worker_that_is_killed_at_any_point_loses_nothing_and_keeps_no_result_twice(service, people, sessions, clock):
    sent = [send(service, person, session) for person, session in zip(people, sessions, strict=True)]
    place = (service.configuration.home, service.configuration.database_url)
    shift_ms = clock.now_ms() - time.time_ns() // 1_000_000
    chance = random.Random(7)  # noqa: S311  a throw that comes out alike each time
    for kill in range(4):
        running = started(WORKER, *place, shift_ms)
        if kill < 3:
            # while it loads, and at some point of a job
            wait_until(lambda: running_jobs(service))
            time.sleep(chance.random() * 2)
        else:
            wait_until(lambda: all_done(service), 150)
        children = below(running.pid)
        running.kill()
        running.wait()
        assert_gone(children)
    with service.database.reading() as connection:
        assert [len(results_of(connection, each)) for each in sent] == [1] * SESSIONS
        count = select(func.count()).select_from(result_versions)
        assert connection.scalar(count) == SESSIONS
        assert course_state(connection, clock.now_ms(), people[0][0]).course["reading"]["results"] == 1
    assert states(service) == ["usable"] * SESSIONS
    assert check(service).problems == ()


def running_jobs(service):
    with service.database.reading() as connection:
        return connection.scalar(select(job_rows.c.id).where(job_rows.c.state == "running"))


def all_done(service):
    with service.database.reading() as connection:
        return jobs.waiting(connection) == 0


def assert_gone(pids):
    """Whatever a killed worker had started ends with it."""
    until = time.monotonic() + LONGEST_S
    while time.monotonic() < until:
        alive = [each for each in pids if Path(f"/proc/{each}/exe").exists()]
        if not alive:
            return
        time.sleep(0.05)
    pytest.fail(f"still there: {alive}")


@pytest.mark.long
def test_whoever_takes_uploads_in_may_be_killed_at_any_point(service, people):
    words = (service.configuration.home, service.configuration.database_url, *people[0])
    chance = random.Random(3)  # noqa: S311  as above
    told = []
    for number in range(6):
        running = started(SENDER, *words, number * 1000, stdout=subprocess.PIPE, text=True)
        told.append(running.stdout.readline().strip())
        time.sleep(chance.random() * 0.5)
        running.kill()
        told += running.stdout.read().split()
        running.stdout.close()
        running.wait()
    told = [each for each in told if len(each) == 32]
    assert len(told) > 6
    with service.database.reading() as connection:
        kept = list(connection.scalars(select(recordings.c.id)))
    # what was answered is there, once; beside it at most the one of each that was killed before it could answer
    assert set(told) <= set(kept)
    assert len(kept) - len(told) <= 6
    assert check(service).problems == ()


@pytest.mark.long
@pytest.mark.parametrize("database_url", ["postgresql"], indirect=True)
def test_two_workers_share_the_work_and_do_nothing_twice(service, people, sessions, clock):
    for person in people[:2]:
        for session in sessions:
            send(service, person, session)
    shift_ms = clock.now_ms() - time.time_ns() // 1_000_000
    place = (service.configuration.home, service.configuration.database_url)
    running = [started(WORKER, *place, shift_ms) for _ in range(2)]
    wait_until(lambda: all_done(service), 150)
    for each in running:
        each.kill()
        each.wait()
    assert states(service) == ["usable"] * SESSIONS * 2
    with service.database.reading() as connection:
        assert connection.scalar(select(func.max(result_versions.c.version))) == 1
        assert connection.scalar(select(func.max(job_rows.c.attempts))) == 1
