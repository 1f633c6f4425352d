"""The loop that works on jobs: claim, have a child process do it, keep what came of it whole; any number may run.

Whatever happens to a worker, its jobs are done by another once the lease has run out, and no result is kept twice,
since keeping one and finishing its job are one transaction.
"""

import fcntl
import os
import secrets
import shutil
import signal
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager, suppress
from pathlib import Path
from typing import Protocol

from imu_rom.clinic import jobs
from imu_rom.clinic.analysis_jobs import NO_PLAN, analysis_inputs, keep_analysis, lay_out_analysis
from imu_rom.clinic.child_process import ChildProcess, Ended, StoppedError
from imu_rom.clinic.course_states import ask_outdated, course_inputs, keep_course, lay_out_course
from imu_rom.clinic.log_lines import log_line
from imu_rom.clinic.service import Service
from imu_rom.clinic.work_order import Outcome, Task
from imu_rom.errors import BusyError, ClinicError

__all__ = ["Stop", "run_worker", "stop_on_signals", "work_on_next"]

IDLE_S = 0.5
RENEW_S = 5.0
BUSY_PAUSE_MS = 30_000
CHORES_S = 60.0
KEEP_ATTEMPTS = 5
COURSE_MEMORY_MB, COURSE_S = 2000.0, 120.0
WORKING = "working"

WHY = {
    "memory": "it needed more memory than it may have",
    "time": "it took longer than it may",
    "idle": "it hung",
    "died": "its process ended without a word",
    "trouble": "it met an error of the program",
}


class Stop(Protocol):
    """Tells a worker to stop; `threading.Event` is one."""

    def is_set(self) -> bool:
        """Tell whether it is to stop.

        Returns
        -------
        bool
            True from then on.
        """
        ...

    def wait(self, timeout: float | None = None) -> bool:
        """Wait until it is to stop.

        Parameters
        ----------
        timeout : float, optional
            Seconds at most.

        Returns
        -------
        bool
            True where it is to stop.
        """
        ...


def stop_on_signals() -> threading.Event:
    """Make what tells a worker to stop when this process is asked to end; for the main thread.

    Returns
    -------
    threading.Event
        Set by SIGTERM and SIGINT.
    """
    stop = threading.Event()
    for each in (signal.SIGTERM, signal.SIGINT):
        signal.signal(each, lambda *_: stop.set())
    return stop


def run_worker(service: Service, stop: Stop) -> None:
    """Work on jobs until asked to stop; a job that is under way then is put back.

    Parameters
    ----------
    service : Service
        Database, files and clock.
    stop : Stop
        Asks to stop.

    Raises
    ------
    ClinicError
        Child processes can't be started.
    """
    child = ChildProcess()
    chores_at = 0.0
    with _working_folder(service.configuration.home / WORKING) as folder:
        try:
            child.start()
            while not stop.is_set():
                try:
                    if time.monotonic() >= chores_at:
                        chores_at = time.monotonic() + CHORES_S
                        with service.database.writing() as connection:
                            ask_outdated(connection, service.clock.now_ms())
                    did = work_on_next(service, child, folder, stop)
                except BusyError:
                    log_line("database busy")
                    did = False
                if not did:
                    stop.wait(IDLE_S)
        finally:
            child.close()


@contextmanager
def _working_folder(above: Path) -> Iterator[Path]:
    """Give this worker a folder of its own, and remove those of workers that were killed."""
    above.mkdir(mode=0o700, parents=True, exist_ok=True)
    for each in above.iterdir():
        with suppress(OSError), (each / "lock").open("a") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
            shutil.rmtree(each, ignore_errors=True)
    with ExitStack() as kept:
        folder = None
        while folder is None:
            folder = _locked_folder(above, kept)
        try:
            yield folder
        finally:
            shutil.rmtree(folder, ignore_errors=True)


def _locked_folder(above: Path, kept: ExitStack) -> Path | None:
    """Make a folder and lock it; None where another worker that started meanwhile took it for one of the killed."""
    folder = above / secrets.token_hex(8)
    folder.mkdir(mode=0o700)
    with suppress(FileNotFoundError):
        lock = kept.enter_context((folder / "lock").open("a"))
        fcntl.flock(lock, fcntl.LOCK_EX)
        if os.path.samestat(os.fstat(lock.fileno()), (folder / "lock").stat()):
            return folder
    return None


def work_on_next(service: Service, child: ChildProcess, folder: Path, stop: Stop) -> bool:
    """Claim a job and work on it.

    Parameters
    ----------
    service : Service
        Database, files and clock.
    child : ChildProcess
        Where the work is done.
    folder : Path
        This worker's own.
    stop : Stop
        Asks to stop.

    Returns
    -------
    bool
        False where there was nothing to do, or nothing can be done just now.
    """
    with service.database.reading() as connection:
        if not jobs.waiting(connection):
            return False
    with service.database.writing(alone=False) as connection:
        job = jobs.claim(connection, service.clock.now_ms())
    if job is None:
        return False
    began = time.monotonic()
    place = folder / job.job_id
    try:
        place.mkdir(mode=0o700)
        _work(service, child, place, stop, job)
    except jobs.LostLeaseError:
        log_line("job lost", job=job.job_id, kind=job.kind)
    except StoppedError:
        _put_back(service, job, 0)
        return False
    except (BusyError, OSError) as error:
        # the disk is full or the database doesn't answer: no fault of the job
        log_line("job put back", job=job.job_id, kind=job.kind, error=type(error).__name__)
        _put_back(service, job, BUSY_PAUSE_MS)
        return False
    except ClinicError as error:
        # of our own words, and without what people wrote
        _fail(service, job, str(error))
    else:
        log_line("job done", job=job.job_id, kind=job.kind, seconds=round(time.monotonic() - began, 2))
    finally:
        shutil.rmtree(place, ignore_errors=True)
    return True


def _put_back(service: Service, job: jobs.Job, pause_ms: int) -> None:
    # if not even that can be written, the lease runs out by itself
    with suppress(BusyError, jobs.LostLeaseError), service.database.writing(alone=False) as connection:
        jobs.put_back(connection, service.clock.now_ms(), job, pause_ms=pause_ms)


def _fail(service: Service, job: jobs.Job, why: str) -> None:
    most = service.configuration.limits.analysis_attempts
    with suppress(jobs.LostLeaseError), service.database.writing() as connection:
        gave_up = jobs.fail(connection, service.clock.now_ms(), job, why, most_attempts=most)
        log_line("job given up" if gave_up else "job failed", job=job.job_id, kind=job.kind, attempts=job.attempts)


def _work(service: Service, child: ChildProcess, place: Path, stop: Stop, job: jobs.Job) -> None:
    if job.attempts > jobs.MOST_LOST:
        _fail(service, job, f"the program that works on it ended {jobs.MOST_LOST} times in the middle of it")
    elif job.kind == "course":
        _work_on_course(service, child, place, stop, job)
    else:
        _work_on_recording(service, child, place, stop, job)


def _work_on_recording(service: Service, child: ChildProcess, place: Path, stop: Stop, job: jobs.Job) -> None:
    with service.database.reading() as connection:
        inputs = analysis_inputs(connection, str(job.recording_id))
    if inputs is None:
        with service.database.writing() as connection:
            jobs.finish(connection, service.clock.now_ms(), job)
        return
    if not inputs.plans:
        _again(lambda: keep_analysis(service, job, inputs, place, NO_PLAN))
        return
    lay_out_analysis(service, inputs, place)
    limits = service.configuration.limits
    outcome = _outcome(
        service, child, place, stop, job, "analyse", limits.analysis_memory_mib * 1.048576, limits.analysis_minutes * 60
    )
    if outcome is not None:
        _again(lambda: keep_analysis(service, job, inputs, place, outcome))


def _work_on_course(service: Service, child: ChildProcess, place: Path, stop: Stop, job: jobs.Job) -> None:
    with service.database.reading() as connection:
        inputs = course_inputs(connection, service.clock.now_ms(), job.patient_id)
    if inputs is None or not inputs.records.plans:
        with service.database.writing() as connection:
            jobs.finish(connection, service.clock.now_ms(), job)
        return
    lay_out_course(service, inputs, place)
    outcome = _outcome(service, child, place, stop, job, "course", COURSE_MEMORY_MB, COURSE_S)
    if outcome is not None:
        _again(lambda: keep_course(service, job, inputs, place, outcome))


def _outcome(
    service: Service,
    child: ChildProcess,
    place: Path,
    stop: Stop,
    job: jobs.Job,
    task: Task,
    memory_mb: float,
    seconds: float,
) -> Outcome | None:
    """Have it done; None where it failed, which is written down then."""
    renewed = time.monotonic()

    def meanwhile() -> None:
        nonlocal renewed
        if stop.is_set():
            raise StoppedError("asked to stop")
        if time.monotonic() - renewed > RENEW_S:
            renewed = time.monotonic()
            # busy just now: there is time for several tries more
            with suppress(BusyError), service.database.writing(alone=False) as connection:
                jobs.renew(connection, service.clock.now_ms(), job)

    ended = child.run(task, place, memory_mb=memory_mb, seconds=seconds, meanwhile=meanwhile)
    log_line("process ended", job=job.job_id, how=ended.how, seconds=ended.seconds, peak_mb=ended.peak_mb)
    if ended.how == "done":
        with suppress(OSError, ValueError, TypeError):
            return Outcome.read(place)
        ended = Ended("died")
    detail = f" ({ended.detail})" if ended.detail else ""
    _fail(service, job, f"{WHY[ended.how]}{detail}")
    return None


def _again(keeps: Callable[[], None]) -> None:
    """Keep what was made, again after a while where the database is busy: making it anew would take longer."""
    for attempt in range(KEEP_ATTEMPTS):
        try:
            keeps()
        except BusyError:
            if attempt + 1 == KEEP_ATTEMPTS:
                raise
            time.sleep(0.2 * 2**attempt)
        else:
            return
