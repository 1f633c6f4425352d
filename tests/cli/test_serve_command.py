"""``imu-rom serve``: starts with nothing configured, says what to do next, and ends with its worker."""

import os
import re
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import httpx
import pytest

from imu_rom.clinic.serving import listen
from imu_rom.wording.serve_text import listening, next_step


def started(home, folder):
    """The service in a new home, on any free port, and its address once it says so."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith("IMU_ROM_")}
    out = folder / "out"
    with out.open("w") as standard_output, (folder / "err").open("w") as standard_error:
        process = subprocess.Popen(
            [sys.executable, "-m", "imu_rom_cli", "serve", "--home", str(home), "--port", "0"],
            stdout=standard_output,
            stderr=standard_error,
            env=environment,
        )
    for _ in range(600):
        found = re.search(r"http://127\.0\.0\.1:\d+", out.read_text())
        if found:
            return process, found[0]
        time.sleep(0.1)
    raise AssertionError((folder / "err").read_text())


def answered(address):
    for _ in range(600):
        try:
            return httpx.get(f"{address}/sign-in", trust_env=False)
        except httpx.TransportError:
            time.sleep(0.1)
    raise AssertionError(address)


def workers_of(home):
    found = []
    for each in Path("/proc").glob("[0-9]*/cmdline"):
        try:
            words = each.read_bytes().split(b"\0")
        except OSError:
            continue
        if b"work" in words and str(home).encode() in words:
            found.append(int(each.parent.name))
    return found


def gone(home):
    for _ in range(600):
        if not workers_of(home):
            return True
        time.sleep(0.1)
    return False


@pytest.mark.skipif(not Path("/proc/self/cmdline").exists(), reason="looks for processes in /proc")
@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL])
def test_it_starts_with_nothing_and_ends_with_its_worker(tmp_path, how):
    home = tmp_path / "home"
    process, address = started(home, tmp_path)
    try:
        answer = answered(address)
        assert answer.status_code == 200
        assert "Sign in" in answer.text
        assert (home / "secret.key").stat().st_mode & 0o777 == 0o600
        assert home.stat().st_mode & 0o777 == 0o700
        assert workers_of(home)
        # a worker that dies is started again
        if how == signal.SIGTERM:
            (worker,) = workers_of(home)
            os.kill(worker, signal.SIGKILL)
            for _ in range(600):
                if workers_of(home) not in ([], [worker]):
                    break
                time.sleep(0.1)
            assert workers_of(home) not in ([], [worker])
        process.send_signal(how)
        process.wait(timeout=60)
    finally:
        process.kill()
        process.wait()
    assert gone(home)
    out, err = (tmp_path / "out").read_text(), (tmp_path / "err").read_text()
    assert "There is no clinic yet: run imu-rom clinic init" in out
    if how == signal.SIGTERM:
        assert "Stopped; whatever was waiting goes on" in err
        assert "The worker ended (code -9) and is started again" in err
    assert "Traceback" not in err
    # the route, never the address
    assert '"route": "/sign-in"' in err


def test_a_port_that_is_taken_is_one_sentence(tmp_path):
    with socket.create_server(("127.0.0.1", 0)) as other:
        port = other.getsockname()[1]
        done = subprocess.run(
            [sys.executable, "-m", "imu_rom_cli", "serve", "--home", str(tmp_path), "--port", str(port)],
            capture_output=True,
            text=True,
            timeout=60,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr == (
        f"imu-rom: can't listen at 127.0.0.1:{port} (address already in use); stop the other program, or name another "
        "port by --port.\n"
    )


def test_no_answer_waits_for_its_head_to_be_acknowledged():
    with listen("127.0.0.1", 0) as listening, socket.create_connection(listening.getsockname()):
        accepted, _ = listening.accept()
        with accepted:
            assert accepted.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY)


def test_what_is_missing_is_said_one_thing_after_the_other():
    assert "no clinic yet" in next_step(clinics=0, phones=0, clinicians=0)
    assert "Nobody can be invited yet" in next_step(clinics=1, phones=0, clinicians=0)
    assert "no clinician yet" in next_step(clinics=1, phones=1, clinicians=0)
    assert next_step(clinics=1, phones=1, clinicians=1) == ""


def test_where_to_open_it_is_said_first():
    local, public = "http://127.0.0.1:8001", "https://clinic.example"
    assert listening(local, local, works=True) == [f"Open {local} in a browser. Ctrl-C stops the service."]
    assert listening(local, public, works=True)[0].startswith(f"Open {public} ")
    assert "a proxy must lead" in listening(local, public, works=True)[1]
    assert f"IMU_ROM_PUBLIC_URL={local}" in listening(local, "http://127.0.0.1:8000", works=True)[1]
    assert "imu-rom clinic work" in listening(local, local, works=False)[-1]
