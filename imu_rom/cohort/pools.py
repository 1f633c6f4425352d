"""Who does the work: processes of this machine, or the workers of a Dask cluster; both by Python's own Executor."""

import logging
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Iterator
from concurrent.futures import BrokenExecutor, Executor, ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection
from typing import Any, Protocol

from imu_rom.errors import CohortError, MissingExtraError

__all__ = ["ClusterPool", "LocalPool", "Pool", "one_thread", "usable_cores"]

# threads of linear algebra in each of several processes only get into each other's way
_ONE_THREAD = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
_CONNECT_S = 20


class Pool(Protocol):
    """Opens an executor, and again where it broke."""

    def open(self) -> Executor:
        """Start the workers.

        Returns
        -------
        Executor
            Ready for work.
        """

    def renew(self) -> Executor:
        """Replace workers that died.

        Returns
        -------
        Executor
            Ready for work.
        """

    def at_once(self) -> int:
        """Tell how many recordings are handed out at a time.

        Returns
        -------
        int
            Enough to keep all workers busy, and no more, so that memory stays flat.
        """

    def is_lost(self, error: BaseException) -> bool:
        """Tell whether an error says that a worker died.

        Parameters
        ----------
        error : BaseException
            What a future raised.

        Returns
        -------
        bool
            False for all else.
        """

    def close(self, *, at_once: bool = False) -> None:
        """End the workers.

        Parameters
        ----------
        at_once : bool
            True: in the middle of what they do.
        """


def usable_cores() -> int:
    """Count the cores that this process may use.

    Returns
    -------
    int
        At least one.
    """
    affinity = getattr(os, "sched_getaffinity", None)
    return len(affinity(0)) if affinity else os.cpu_count() or 1


class LocalPool:
    """Processes of this machine.

    Parameters
    ----------
    workers : int
        How many; from one on, so that not even a single one can end the run.
    """

    def __init__(self, workers: int) -> None:
        self.workers = workers
        self._executor: ProcessPoolExecutor | None = None
        self._lifeline: Connection | None = None

    def open(self) -> Executor:
        """Start the processes.

        Returns
        -------
        Executor
            A `concurrent.futures.ProcessPoolExecutor`, all of whose processes have begun.

        Raises
        ------
        CohortError
            They can't be started.
        """
        # a fork would copy locks that other threads hold
        context = multiprocessing.get_context("spawn")
        end, self._lifeline = context.Pipe(duplex=False)
        with _started_quietly():
            self._executor = ProcessPoolExecutor(self.workers, context, initializer=_begin, initargs=(end,))
            try:
                for each in [self._executor.submit(os.getpid) for _ in range(self.workers)]:
                    each.result()
            except (BrokenExecutor, OSError) as error:
                raise CohortError(
                    f"{self.workers} worker processes can't be started: {error}",
                    do="take fewer by --workers, or look whether memory is short",
                ) from None
        return self._executor

    def renew(self) -> Executor:
        """Start all processes anew: the death of one breaks the executor.

        Returns
        -------
        Executor
            A new one.
        """
        self.close(at_once=True)
        return self.open()

    def at_once(self) -> int:
        """Tell how many recordings are handed out at a time.

        Returns
        -------
        int
            Two for each process.
        """
        return 2 * self.workers

    def is_lost(self, error: BaseException) -> bool:
        """Tell whether a process died.

        Parameters
        ----------
        error : BaseException
            What a future raised.

        Returns
        -------
        bool
            True where the pool is broken.
        """
        return isinstance(error, BrokenExecutor)

    def close(self, *, at_once: bool = False) -> None:
        """End the processes.

        Parameters
        ----------
        at_once : bool
            True: in the middle of what they do.
        """
        if self._lifeline is not None and at_once:
            self._lifeline.close()
        if self._executor is not None:
            self._executor.shutdown(wait=True, cancel_futures=at_once)
        if self._lifeline is not None:
            self._lifeline.close()
        self._executor = self._lifeline = None


@contextmanager
def one_thread() -> Iterator[None]:
    """Let pandas parse a file by one thread: the other cores have workers of their own.

    Yields
    ------
    None
        While it does; versions that know only one thread are left as they are.
    """
    from pandas import get_option, option_context  # noqa: PLC0415  heavy

    option = "mode.max_threads"
    try:
        get_option(option)
    except KeyError:
        yield
        return
    with option_context(option, 1):
        yield


@contextmanager
def _started_quietly() -> Iterator[None]:
    """Let new processes be deaf to Ctrl-C, which the one that started them hears, and use one thread each."""
    before = {name: os.environ.get(name) for name in _ONE_THREAD}
    for name in _ONE_THREAD:
        os.environ.setdefault(name, "1")
    try:
        with _interrupts_held_back():
            yield
    finally:
        for name, value in before.items():
            if value is None:
                del os.environ[name]


@contextmanager
def _interrupts_held_back() -> Iterator[None]:
    """Have new processes deaf to Ctrl-C; one that comes meanwhile is heard here afterwards, not lost as if ignored."""
    if sys.platform == "win32":
        yield
        return
    # the first process that Python starts beside a pool's own lets in again what is held back
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _begin(lifeline: Connection) -> None:
    """Begin a worker, which ends with the process that started it, however that ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with, args=(lifeline,), daemon=True).start()


def _end_with(lifeline: Connection) -> None:
    try:
        lifeline.recv_bytes()
    except (EOFError, OSError):
        os._exit(1)


class ClusterPool:
    """The workers of a Dask cluster, which must have imu-rom, and see the dataset at the same address.

    Parameters
    ----------
    address : str
        Of its scheduler, such as ``tcp://10.0.0.1:8786``.
    """

    def __init__(self, address: str) -> None:
        self.address = address
        self._client: Any = None
        self._executor: Executor | None = None

    def open(self) -> Executor:
        """Connect to the cluster.

        Returns
        -------
        Executor
            That of a `distributed.Client`.

        Raises
        ------
        CohortError
            It can't be reached, or has no workers.
        MissingExtraError
            distributed is not installed.
        """
        try:
            from distributed import Client  # noqa: PLC0415  an extra

            # at an interrupt its event loop may report its own unfinished calls with a traceback
            logging.getLogger("tornado.application").setLevel(logging.CRITICAL)
        except ImportError:
            raise MissingExtraError("a cluster needs distributed", do="pip install 'imu-rom[cluster]'") from None
        connect: Any = Client
        try:
            self._client = connect(self.address, timeout=_CONNECT_S, set_as_default=False)
        except (OSError, ValueError, TypeError) as error:
            reason = str(error).splitlines()[0] if str(error) else type(error).__name__
            raise CohortError(f"can't be reached: {reason}", where=self.address, do="check the address") from None
        if not self._client.nthreads():
            raise CohortError("has no workers", where=self.address, do="start some, by dask worker and the address")
        executor: Executor = self._client.get_executor(pure=False)
        self._executor = executor
        return executor

    def renew(self) -> Executor:
        """Go on with the cluster, which replaces its workers by itself.

        Returns
        -------
        Executor
            The same.
        """
        return self.open() if self._executor is None else self._executor

    def at_once(self) -> int:
        """Tell how many recordings are handed out at a time.

        Returns
        -------
        int
            Two for each thread that the cluster has now.
        """
        return max(2, 2 * sum(int(each) for each in self._client.nthreads().values()))

    def is_lost(self, error: BaseException) -> bool:
        """Tell whether a recording's workers died again and again.

        Parameters
        ----------
        error : BaseException
            What a future raised.

        Returns
        -------
        bool
            True where Dask gave it up for that.
        """
        from distributed.scheduler import KilledWorker  # noqa: PLC0415

        return isinstance(error, KilledWorker)

    def close(self, *, at_once: bool = False) -> None:
        """Leave the cluster as it is, and disconnect.

        Parameters
        ----------
        at_once : bool
            Not used: what is not done is cancelled in any case.
        """
        del at_once
        if self._client is not None:
            self._client.close()
        self._client = self._executor = None
