"""A worker's side of the process that analyses: starts it, hands it one job at a time, notices how each ended."""

import json
import os
import select
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from imu_rom.clinic.work_order import Task
from imu_rom.errors import ClinicError

__all__ = ["ChildProcess", "Ended", "StoppedError"]

START_S = 60.0
IDLE_S = 30.0
_TICK_S = 0.5
# longer than the limit of a job by this, and the process that should have ended it hangs itself
_GRACE_S = 15.0
# of this process' surroundings, what the other needs; secrets may stand in all else
_PASSED_ON = ("PATH", "PYTHONPATH", "HOME", "LANG", "LC_ALL", "TMPDIR", "VIRTUAL_ENV", "SYSTEMROOT", "LD_LIBRARY_PATH")
# a process that forks must have no other thread, whose locks its children would wait for: neither those of linear
# algebra nor the one that pyarrow's memory, where it is installed, would start
_ONE_THREAD = {
    "OMP_NUM_THREADS": "1",
    "OPENBLAS_NUM_THREADS": "1",
    "MKL_NUM_THREADS": "1",
    "JE_ARROW_MALLOC_CONF": "background_thread:false",
}


class StoppedError(ClinicError):
    """The worker was asked to stop while a job was under way."""


@dataclass(frozen=True)
class Ended:
    """How a job's process ended.

    Parameters
    ----------
    how : {"done", "memory", "time", "idle", "trouble", "died"}
        Done: its outcome lies in the folder. Memory, time: at a limit. Idle: it hung. Trouble: an error that nobody
        foresaw. Died: without a word.
    detail : str
        Name of the signal or the error, and where it was raised; nothing that people wrote.
    seconds : float
        How long it took.
    peak_mb : float
        Largest memory.
    """

    how: Literal["done", "memory", "time", "idle", "trouble", "died"]
    detail: str = ""
    seconds: float = 0.0
    peak_mb: float = 0.0


class ChildProcess:
    """A process that has the analysis loaded, or that is started when it is first needed."""

    def __init__(self) -> None:
        self._process: subprocess.Popen[bytes] | None = None
        self._ready = False

    def start(self) -> None:
        """Start it, so that the first job needn't wait; it loads in the background."""
        if self._process is None or self._process.poll() is not None:
            self.close()
            surroundings = {name: os.environ[name] for name in _PASSED_ON if name in os.environ}
            self._process = subprocess.Popen(
                [sys.executable, "-P", "-m", "imu_rom.clinic.warm_process"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                env=surroundings | _ONE_THREAD,
                bufsize=0,
            )
            self._ready = False

    def run(
        self,
        task: Task,
        folder: Path,
        *,
        memory_mb: float,
        seconds: float,
        meanwhile: Callable[[], None],
        idle_seconds: float = IDLE_S,
    ) -> Ended:
        """Have one job done.

        Parameters
        ----------
        task : {"analyse", "course"}
            What.
        folder : Path
            With its order in it.
        memory_mb : float
            Above what the loaded program takes.
        seconds : float
            As long as it may take.
        meanwhile : callable
            Called about twice a second; what it raises ends the job and the process.
        idle_seconds : float
            As long as it may do nothing at all.

        Returns
        -------
        Ended
            How it ended.

        Raises
        ------
        ClinicError
            The process can't be started.
        """
        self.start()
        try:
            self._wait_until_ready(meanwhile)
            order = {"task": task, "folder": str(folder), "memory_mb": memory_mb, "seconds": seconds}
            order["idle_seconds"] = idle_seconds
            self._say(json.dumps(order).encode() + b"\n")
            answer = self._answer(seconds + _GRACE_S, meanwhile)
        except BaseException:
            self.close()
            raise
        if answer is None:
            # it hangs, or was ended from outside
            gone = self._process is not None and self._process.poll() is not None
            self.close()
            return Ended("died" if gone else "time", "the process that starts it")
        return Ended(answer["ended"], answer["detail"], answer["seconds"], answer["peak_mb"])

    def _wait_until_ready(self, meanwhile: Callable[[], None]) -> None:
        if not self._ready:
            if self._answer(START_S, meanwhile) is None:
                raise ClinicError("the process that analyses can't be started", do="look into the service's log")
            self._ready = True

    def _say(self, line: bytes) -> None:
        if self._process is not None and self._process.stdin is not None:
            try:
                self._process.stdin.write(line)
            except BrokenPipeError:
                return  # no answer will come

    def _answer(self, seconds: float, meanwhile: Callable[[], None]) -> dict[str, Any] | None:
        """Wait for a line; None where the process ended or took too long."""
        if self._process is None or self._process.stdout is None:
            return None
        until, line = time.monotonic() + seconds, b""
        while time.monotonic() < until:
            if select.select([self._process.stdout], [], [], _TICK_S)[0]:
                block = os.read(self._process.stdout.fileno(), 65536)
                line += block
                if line.endswith(b"\n"):
                    answer: dict[str, Any] = json.loads(line)
                    return answer
                if not block:
                    self._process.wait()
                    return None
            meanwhile()
        return None

    def close(self) -> None:
        """End the process, and with it a job that is under way."""
        process, self._process = self._process, None
        if process is None:
            return
        if not self._ready:
            # it has no job, and while it is loading it hears nothing
            process.kill()
        for each in (process.stdin, process.stdout):
            if each is not None:
                each.close()
        try:
            process.wait(timeout=5)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()
