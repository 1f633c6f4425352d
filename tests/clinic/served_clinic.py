"""The clinic's service as its owner runs it: a home, a process on a free port, the owner's commands."""

import contextlib
import io
import os
import re
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import httpx

from imu_rom_cli.main import main

STARTS_WITHIN_S = ENDS_WITHIN_S = 90


def free_address():
    """An address of this machine that nobody listens at, and that nobody is given who asks for any."""
    # below those that systems give away, so that it is free still when a service is started anew
    for port in range(20_000 + os.getpid() % 10_000, 32_000):
        with contextlib.suppress(OSError), socket.create_server(("127.0.0.1", port)):
            return f"http://127.0.0.1:{port}"
    raise AssertionError("no port is free")


class ServedClinic:
    """A service with its worker, started and ended as often as is wanted, always at the same address.

    Parameters
    ----------
    folder : Path
        For its home and what it writes.
    """

    def __init__(self, folder):
        self.address = free_address()
        self.home = Path(folder) / "home"
        self.log = Path(folder) / "log"
        self.process = None
        own = {"IMU_ROM_PUBLIC_URL": self.address, "PYTHONPATH": os.pathsep.join(sys.path)}
        self.environment = {name: value for name, value in os.environ.items() if not name.startswith("IMU_ROM_")} | own

    def owner(self, *words):
        """Do one of the owner's commands in this process; gives what it prints."""
        said = io.StringIO()
        before = os.environ.get("IMU_ROM_PUBLIC_URL")
        os.environ["IMU_ROM_PUBLIC_URL"] = self.address
        try:
            with contextlib.redirect_stdout(said), contextlib.redirect_stderr(io.StringIO()):
                code = main(["clinic", *words, "--home", str(self.home)])
        finally:
            os.environ.pop("IMU_ROM_PUBLIC_URL")
            if before is not None:
                os.environ["IMU_ROM_PUBLIC_URL"] = before
        assert code == 0, said.getvalue()
        return said.getvalue()

    def invited(self, *words):
        """The link that one of the owner's commands prints."""
        (link,) = re.findall(r"https?://\S+", self.owner(*words))
        return link

    def begin(self, *words):
        """Start the service, and wait until it answers."""
        command = [sys.executable, "-m", "imu_rom_cli", "serve", "--home", str(self.home), *words]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                command, env=self.environment, stdout=log, stderr=log, start_new_session=True
            )
        until = time.monotonic() + STARTS_WITHIN_S
        while True:
            try:
                httpx.get(f"{self.address}/sign-in", trust_env=False)
            except httpx.TransportError:
                answers = False
            else:
                answers = True
            # whoever answers where the service has ended is another
            assert self.process.poll() is None, self.log.read_text()
            if answers:
                return
            assert time.monotonic() < until, self.log.read_text()
            time.sleep(0.05)

    def end(self):
        """Ask it to end."""
        if self.process is not None:
            process, self.process = self.process, None
            process.send_signal(signal.SIGTERM)
            try:
                process.wait(ENDS_WITHIN_S)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
                raise AssertionError(self.log.read_text()) from None

    def kill(self):
        """End it at once, as by a power cut; its worker notices by itself."""
        self.process.kill()
        self.process.wait()
        self.process = None

    def workers(self):
        """Processes of workers of this home."""
        found = []
        for each in Path("/proc").glob("[0-9]*/cmdline"):
            with contextlib.suppress(OSError):
                words = each.read_bytes().split(b"\0")
                if b"work" in words and str(self.home).encode() in words:
                    found.append(int(each.parent.name))
        return found
