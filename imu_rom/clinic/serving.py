"""The server of the clinic's pages, and the worker beside it as a process of its own.

The worker reads a pipe that only the server holds open, so that it ends however the server does, also by ``kill -9``.
"""

import logging
import os
import signal
import socket
import subprocess
import sys
import tempfile
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager

import uvicorn

from imu_rom.clinic.log_lines import log_line
from imu_rom.clinic.service import Service
from imu_rom.clinic.web.application import create_application
from imu_rom.errors import ClinicError

__all__ = ["listen", "log_to_standard_error", "serve", "stop_with_standard_input", "worker_beside"]

INCOMING = "incoming"
ENDS_WITHIN_S = 15
RESTART_S = 1.0
_BACKLOG = 2048


def listen(host: str, port: int) -> socket.socket:
    """Take an address of this machine.

    Parameters
    ----------
    host : str
        Name or address.
    port : int
        Port; 0 takes any that is free.

    Returns
    -------
    socket
        That listens.

    Raises
    ------
    ClinicError
        Another program listens there, or it is no address of this machine.
    """
    try:
        family = socket.AF_INET6 if ":" in host else socket.AF_INET
        listening = socket.create_server((host, port), family=family, backlog=_BACKLOG)
        # what it accepts inherits this: without it, the body waits 40 ms for the head to be acknowledged
        listening.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    except (OSError, OverflowError) as error:
        reason = (os.strerror(error.errno) if isinstance(error, OSError) and error.errno else str(error)).lower()
        advice = "stop the other program, or name another port by --port"
        raise ClinicError(f"can't listen at {host}:{port} ({reason})", do=advice) from error
    return listening


def serve(service: Service, listening: socket.socket) -> None:
    """Answer until the process is asked to end.

    Parameters
    ----------
    service : Service
        What everything is kept in.
    listening : socket
        Where to answer.
    """
    incoming = service.configuration.home / INCOMING
    incoming.mkdir(mode=0o700, exist_ok=True)
    # what is on its way in stays where everything is kept, and has no name there
    tempfile.tempdir = str(incoming)
    configuration = uvicorn.Config(
        create_application(service),
        log_config=None,
        access_log=False,
        server_header=False,
        lifespan="off",
        ws="none",
        timeout_graceful_shutdown=ENDS_WITHIN_S,
    )
    _Server(configuration).run(sockets=[listening])


class _Server(uvicorn.Server):
    """Ends well when it is asked to, so that what was begun beside it can be ended too."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Stop answering when asked; the library's own way raises the signal again, which ends the process."""
        before = {each: signal.signal(each, self.handle_exit) for each in (signal.SIGTERM, signal.SIGINT)}
        try:
            yield
        finally:
            for each, handler in before.items():
                signal.signal(each, handler)


@contextmanager
def worker_beside(command: Sequence[str], told: Callable[[int], None]) -> Iterator[None]:
    """Run a worker as long as the block runs; one that ends by itself is started again.

    Parameters
    ----------
    command : sequence of str
        Words of a command that works until its standard input ends.
    told : callable
        Is given the exit code of one that ended by itself.

    Yields
    ------
    None
        While it runs.
    """
    over, starting = threading.Event(), threading.Lock()
    process = _start(command)

    def watch() -> None:
        nonlocal process
        while True:
            code = process.wait()
            # both may have been asked to end at once
            if over.wait(RESTART_S):
                return
            with starting:
                # none is started that nobody would end
                if over.is_set():
                    return
                told(code)
                log_line("worker ended", code=code)
                process = _start(command)

    watching = threading.Thread(target=watch, daemon=True)
    watching.start()
    try:
        yield
    finally:
        with starting:
            over.set()
        _end(process)


def _start(command: Sequence[str]) -> "subprocess.Popen[bytes]":
    return subprocess.Popen(command, stdin=subprocess.PIPE, start_new_session=True)  # noqa: S603 - our own program


def _end(process: "subprocess.Popen[bytes]") -> None:
    if process.stdin is not None:
        process.stdin.close()
    try:
        process.wait(timeout=ENDS_WITHIN_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()


def stop_with_standard_input(stop: threading.Event) -> None:
    """Have a worker stop when its standard input ends.

    Parameters
    ----------
    stop : Event
        Is set then.
    """

    def wait() -> None:
        while os.read(sys.stdin.fileno(), 4096):
            pass
        stop.set()

    threading.Thread(target=wait, daemon=True).start()


def log_to_standard_error() -> None:
    """Write the service's lines of JSON to standard error, and nothing of other programs below a warning."""
    handler = logging.StreamHandler()
    handler.setFormatter(logging.Formatter("%(message)s"))
    logging.basicConfig(level=logging.WARNING, handlers=[handler])
    logging.getLogger("imu_rom.clinic").setLevel(logging.INFO)
