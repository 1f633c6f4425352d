"""Handing out jobs: few at a time, and a worker's death is charged to the job that causes it."""

import multiprocessing
import os
import signal
import subprocess
import sys
import time
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool

import pandas as pd
import pytest

from imu_rom.cohort.dataset import Dataset, DatasetRecording
from imu_rom.cohort.interrupts import interrupts_held
from imu_rom.cohort.one_recording import Done, Job, analyse_recording
from imu_rom.cohort.pools import _started_quietly, one_thread
from imu_rom.cohort.running import run
from imu_rom.errors import CohortError
from imu_rom.settings import Settings

AT_ONCE = 4


def jobs(number):
    for place in range(number):
        name = f"sub-{place:02d}_motion.tsv"
        yield Job(Dataset("/none"), DatasetRecording(name, name, (name,)), (), Settings())


def done(job):
    return Done(job.recording.place, "key", b"{}")


class Breaking(Executor):
    """Does what it is given when there are as many as are handed out at once; a deadly job breaks all of them."""

    def __init__(self, pool):
        self.pool = pool
        self.waiting = []
        self.broken = False

    def submit(self, work, job):
        if self.broken:
            raise BrokenProcessPool
        future = Future()
        self.waiting.append((future, work, job))
        if job.recording.place in self.pool.deadly:
            self.broken = True
        if self.broken or len(self.waiting) == self.pool.size or job.recording.place == self.pool.last:
            for one, task, each in self.waiting:
                one.set_exception(BrokenProcessPool()) if self.broken else one.set_result(task(each))
            self.waiting = []
        return future


class Pool:
    def __init__(self, deadly=(), number=0):
        self.deadly = {f"sub-{each:02d}_motion.tsv" for each in deadly}
        self.last = f"sub-{number - 1:02d}_motion.tsv"
        self.opened = 0
        self.size = 1

    def open(self):
        self.opened += 1
        return Breaking(self)

    def renew(self):
        return self.open()

    def at_once(self):
        return AT_ONCE

    def is_lost(self, error):
        return isinstance(error, BrokenProcessPool)


@pytest.mark.parametrize("deadly", [(), (0,), (3,), (11,), (2, 3), (0, 5, 11)])
def test_each_job_comes_back_once_and_only_the_deadly_fail(deadly):
    pool = Pool(deadly, 12)
    came = [(job.recording.place, what.code) for job, what in run(jobs(12), pool, done)]
    assert sorted(came) == [
        (f"sub-{each:02d}_motion.tsv", "killed-its-worker" if each in deadly else "") for each in range(12)
    ]
    # once, and for each deadly job once when it takes others with it and once when it is alone
    assert pool.opened <= 1 + 2 * len(deadly)


def test_jobs_are_made_as_workers_become_free():
    taken = []

    def watched():
        for job in jobs(50):
            taken.append(job)
            yield job

    for number, _ in enumerate(run(watched(), Pool(number=50), done)):
        assert len(taken) <= number + 1 + AT_ONCE


@pytest.fixture
def hears_ctrl_c():
    """A shell may have started the tests deaf to it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


class Deleted:
    """Is interrupted while it is deleted, where Python ignores what is raised."""

    def __del__(self):
        os.kill(os.getpid(), signal.SIGINT)
        time.sleep(0.01)


@pytest.mark.usefixtures("hears_ctrl_c")
def test_an_interrupt_that_python_would_ignore_ends_the_run():
    class Never(Breaking):
        def submit(self, _work, _job):
            return Future()

    pool = Pool()
    pool.open = lambda: Never(pool)
    with interrupts_held() as was_interrupted:
        Deleted()
        with pytest.raises(KeyboardInterrupt):
            list(run(jobs(3), pool, done, was_interrupted))


@pytest.mark.usefixtures("hears_ctrl_c")
def test_the_second_interrupt_is_not_waited_for():
    with interrupts_held() as was_interrupted:
        os.kill(os.getpid(), signal.SIGINT)
        assert was_interrupted()
        with pytest.raises(KeyboardInterrupt):
            os.kill(os.getpid(), signal.SIGINT)
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


@pytest.mark.usefixtures("hears_ctrl_c")
def test_an_interrupt_after_the_last_look_is_raised_at_the_end():
    def look_too_soon():
        with interrupts_held() as was_interrupted:
            assert not was_interrupted()
            os.kill(os.getpid(), signal.SIGINT)

    with pytest.raises(KeyboardInterrupt):
        look_too_soon()
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


@pytest.mark.usefixtures("hears_ctrl_c")
def test_an_interrupt_while_workers_are_started_is_heard_afterwards_and_not_by_them():
    code = "import signal; print(signal.SIGINT in signal.pthread_sigmask(signal.SIG_BLOCK, []))"
    with interrupts_held() as was_interrupted:
        with _started_quietly():
            deaf = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
            os.kill(os.getpid(), signal.SIGINT)
        assert was_interrupted()
    assert deaf == "True\n"
    assert signal.SIGINT not in signal.pthread_sigmask(signal.SIG_BLOCK, [])


def test_workers_are_deaf_to_ctrl_c_from_their_begin():
    with _started_quietly(), ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as pool:
        assert signal.SIGINT in pool.submit(signal.pthread_sigmask, signal.SIG_BLOCK, ()).result(90)


def test_who_is_deaf_to_ctrl_c_stays_so():
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        with interrupts_held() as was_interrupted:
            os.kill(os.getpid(), signal.SIGINT)
            assert not was_interrupted()
    finally:
        signal.signal(signal.SIGINT, before)


def test_workers_that_fail_for_another_reason_end_the_run():
    def not_there(job):
        raise ModuleNotFoundError("no imu_rom here")

    class Raising(Breaking):
        def submit(self, work, job):
            future = Future()
            try:
                future.set_result(work(job))
            except ModuleNotFoundError as error:
                future.set_exception(error)
            return future

    pool = Pool()
    pool.open = lambda: Raising(pool)
    with pytest.raises(CohortError, match="no imu_rom here"):
        list(run(jobs(3), pool, not_there))


def test_a_worker_of_another_version_ends_the_run():
    (job,) = jobs(1)
    other = Job(job.dataset, job.recording, (), job.settings, program_version="0.0.1")
    with pytest.raises(CohortError, match=r"0\.0\.1"):
        analyse_recording(other)


def test_a_file_that_went_away_is_tried_again_the_next_time():
    (job,) = jobs(1)
    gone = analyse_recording(job)
    assert (gone.key, gone.code) == (None, "not-reachable")


def test_pandas_has_one_thread_while_a_worker_reads_and_all_of_them_again_afterwards():
    before = getattr(pd.options.mode, "max_threads", None)
    with one_thread():
        assert getattr(pd.options.mode, "max_threads", 1) == 1
    assert getattr(pd.options.mode, "max_threads", None) == before
