"""A process that has the analysis loaded and forks a child for each job: started by a worker, run by nobody else.

It reads one line of JSON a job from its standard input and answers with one line. The child gets limits of memory, of
time and of the size of files, works in the job's folder and ends; what it leaves is files. When the worker ends,
however it does, the input ends with it, and with that the child and this process end too.
"""

import errno
import gc
import json
import os
import select
import signal
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import Any

__all__ = ["DONE", "NOT_ENOUGH_MEMORY", "main"]

DONE, NOT_ENOUGH_MEMORY, TROUBLE = 0, 3, 4
TROUBLE_FILE = "trouble.txt"
LARGEST_FILE_BYTES = 2_000_000_000
OPEN_FILES = 256
_LOOK_S = 0.02
_LOOK_AT_IDLE_S = 0.5
_NICER_BY = 10
# of Linux: the kernel ends this process when its parent ends
_PR_SET_PDEATHSIG = 1


def main() -> int:
    """Load everything, then work on jobs until the input ends.

    Returns
    -------
    int
        0.
    """
    # the worker hears them, and ends this process in its own time
    for each in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
        signal.signal(each, signal.SIG_IGN)
    # while everything is being loaded, nobody looks whether the input has ended
    _end_with_parent(os.getppid())
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8")
    # whatever a library prints is no answer
    os.dup2(2, 1)
    _load()
    gc.collect()
    gc.freeze()
    _answer(answers, {"ended": "ready"})
    waiting = b""
    while True:
        block = os.read(0, 65536)
        if not block:
            return 0
        waiting += block
        while b"\n" in waiting:
            line, _, waiting = waiting.partition(b"\n")
            _answer(answers, _run(json.loads(line)))


def _answer(answers: Any, said: dict[str, Any]) -> None:  # noqa: ANN401
    try:
        answers.write(json.dumps(said) + "\n")
        answers.flush()
    except BrokenPipeError:
        # the worker was killed, and nobody is left to answer; leaving in the usual way would try to write once more
        os._exit(0)


def _load() -> None:
    """Import what jobs need, also what is imported only on the way."""
    import pandas  # noqa: F401, ICN001, PLC0415
    import scipy.optimize  # noqa: PLC0415
    import scipy.signal  # noqa: PLC0415
    import scipy.stats  # noqa: F401, PLC0415
    import vqf  # noqa: F401, PLC0415

    import imu_rom.clinic.analysing  # noqa: PLC0415
    import imu_rom.clinic.course_making  # noqa: PLC0415
    import imu_rom.dose.plan_form  # noqa: F401, PLC0415
    from imu_rom.report.rendering import compile_templates  # noqa: PLC0415

    compile_templates()


def _run(order: dict[str, Any]) -> dict[str, Any]:
    """Fork a child, wait for its end, and end it where it takes too long or the worker has ended."""
    began, parent = time.monotonic(), os.getpid()
    child = os.fork()
    if child == 0:
        _become_child(order, parent)
    ended = ""
    watched = _Watched(child)
    while True:
        found, status, used = os.wait4(child, os.WNOHANG)
        if found:
            break
        if time.monotonic() - began > order["seconds"]:
            ended = "time"
            _end(child)
        elif watched.idle_s() > order["idle_seconds"]:
            ended = "idle"
            _end(child)
        elif select.select([0], [], [], _LOOK_S)[0]:
            # nothing is asked while a job runs: this is the end of the worker
            _end(child)
            os.waitpid(child, 0)
            os._exit(0)
    _end_group(child)
    if not ended:
        code = os.waitstatus_to_exitcode(status)
        ended = {DONE: "done", NOT_ENOUGH_MEMORY: "memory", TROUBLE: "trouble", -signal.SIGXCPU: "time"}.get(
            code, "died"
        )
    return {
        "ended": ended,
        "detail": _detail(ended, status, Path(order["folder"])),
        "seconds": round(time.monotonic() - began, 3),
        # kilobytes on Linux, bytes on macOS
        "peak_mb": round(used.ru_maxrss / (1e3 if sys.platform == "linux" else 1e6)),
    }


class _Watched:
    """Tells how long a process has done nothing: an analysis computes, or it hangs.

    Where memory ends while a thread is being started, Python waits for it for ever.
    """

    def __init__(self, child: int) -> None:
        self._path = Path(f"/proc/{child}/stat")
        self._used = ""
        self._looked = self._since = time.monotonic()

    def idle_s(self) -> float:
        now = time.monotonic()
        if now - self._looked > _LOOK_AT_IDLE_S:
            self._looked = now
            used = self._ticks()
            if not used or used != self._used:
                self._used, self._since = used, now
        return now - self._since

    def _ticks(self) -> str:
        """Time of the processor in user and system mode; nothing where the system doesn't say it so."""
        try:
            # the name, which may hold anything, ends with the last bracket
            return " ".join(self._path.read_text("ascii", "replace").rpartition(")")[2].split()[11:13])
        except OSError:
            return ""


def _detail(ended: str, status: int, folder: Path) -> str:
    if ended == "died":
        code = os.waitstatus_to_exitcode(status)
        return signal.Signals(-code).name if code < 0 else f"code {code}"
    if ended == "trouble":
        with suppress(OSError):
            return (folder / TROUBLE_FILE).read_text("utf-8")[:200]
    return ""


def _end(child: int) -> None:
    with suppress(ProcessLookupError):
        os.kill(child, signal.SIGKILL)
    _end_group(child)


def _end_group(child: int) -> None:
    # the child is the leader of a group of its own
    with suppress(ProcessLookupError, PermissionError):
        os.killpg(child, signal.SIGKILL)


def _become_child(order: dict[str, Any], parent: int) -> None:
    """Work on one job and end this process; never returns."""
    code = TROUBLE
    folder = Path(order["folder"])
    try:
        os.setsid()
        _end_with_parent(parent)
        _limit(order)
        nothing = os.open(os.devnull, os.O_RDWR)
        for each in (0, 1, 2):
            os.dup2(nothing, each)
        os.closerange(3, 65536)
        os.chdir(folder)
        _work(order["task"], folder)
        code = DONE
    except MemoryError:
        code = NOT_ENOUGH_MEMORY
    except BaseException as error:  # noqa: BLE001  anything: the process ends here
        if isinstance(error, OSError) and error.errno == errno.ENOMEM:
            code = NOT_ENOUGH_MEMORY
        with suppress(BaseException):
            (folder / TROUBLE_FILE).write_text(_where(error), "utf-8")
    finally:
        os._exit(code)


def _work(task: str, folder: Path) -> None:
    if task == "analyse":
        from imu_rom.clinic.analysing import analyse_sent  # noqa: PLC0415

        analyse_sent(folder).write(folder)
    elif task == "course":
        from imu_rom.clinic.course_making import make_course  # noqa: PLC0415

        make_course(folder).write(folder)
    else:
        raise ValueError("there is no such task")


def _where(error: BaseException) -> str:
    """Say which error it was and where it was raised, without its words: they may hold what people wrote."""
    traced = error.__traceback__
    place = ""
    while traced is not None:
        place = f"{Path(traced.tb_frame.f_code.co_filename).name}:{traced.tb_lineno}"
        traced = traced.tb_next
    return f"{type(error).__name__} in {place}"


def _end_with_parent(parent: int) -> None:
    if sys.platform == "linux":
        import ctypes  # noqa: PLC0415

        ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL, 0, 0, 0)
        # one that ended before that was asked for is not told of
        if os.getppid() != parent:
            os._exit(TROUBLE)


def _limit(order: dict[str, Any]) -> None:
    import resource  # noqa: PLC0415  not everywhere

    for name in (signal.SIGXFSZ, signal.SIGPIPE):
        signal.signal(name, signal.SIG_IGN)
    memory = int(order["memory_mb"] * 1e6) + _address_bytes()
    seconds = int(order["seconds"]) + 1
    for what, limit in (
        (resource.RLIMIT_AS, memory),
        (resource.RLIMIT_CPU, seconds),
        (resource.RLIMIT_FSIZE, LARGEST_FILE_BYTES),
        (resource.RLIMIT_CORE, 0),
        (resource.RLIMIT_NOFILE, OPEN_FILES),
    ):
        soft = min(limit, *(each for each in resource.getrlimit(what) if each != resource.RLIM_INFINITY), limit)
        resource.setrlimit(what, (soft, soft))
    os.nice(_NICER_BY)
    if sys.platform == "linux":
        # where memory ends all the same, it is this process that goes
        with suppress(OSError):
            Path("/proc/self/oom_score_adj").write_text("1000", "ascii")


def _address_bytes() -> int:
    """Tell how much address space the loaded program takes by itself."""
    try:
        pages = int(Path("/proc/self/statm").read_text("ascii").split()[0])
    except (OSError, ValueError):
        return 1_000_000_000
    return pages * os.sysconf("SC_PAGE_SIZE")


if __name__ == "__main__":
    raise SystemExit(main())
