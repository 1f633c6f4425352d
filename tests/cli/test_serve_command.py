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

LONGEST_S = 90


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
    try:
        return process, wait_for(lambda: re.search(r"http://127\.0\.0\.1:\d+", out.read_text()), process, folder)[0]
    except BaseException:
        process.kill()
        process.wait()
        raise


def wait_for(found, process, folder):
    """What is found by and by, while the service runs."""
    until = time.monotonic() + LONGEST_S
    while not (what := found()):
        assert process.poll() is None, (folder / "err").read_text()
        assert time.monotonic() < until, (folder / "err").read_text()
        time.sleep(0.05)
    return what


def answer_of(address):
    try:
        return httpx.get(f"{address}/sign-in", trust_env=False)
    except httpx.TransportError:
        return None


def workers_of(home):
    """Numbers of the processes that have the words of a worker; for a moment those that it starts have them too."""
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
    until = time.monotonic() + LONGEST_S
    while workers_of(home):
        if time.monotonic() > until:
            return False
        time.sleep(0.05)
    return True


@pytest.mark.skipif(not Path("/proc/self/cmdline").exists(), reason="looks for processes in /proc")
@pytest.mark.parametrize("how", [signal.SIGTERM, signal.SIGKILL])
def test_it_starts_with_nothing_and_ends_with_its_worker(tmp_path, how):
    home = tmp_path / "home"
    process, address = started(home, tmp_path)
    try:
        answer = wait_for(lambda: answer_of(address), process, tmp_path)
        assert answer.status_code == 200
        assert "Sign in" in answer.text
        assert (home / "secret.key").stat().st_mode & 0o777 == 0o600
        assert home.stat().st_mode & 0o777 == 0o700
        assert workers_of(home)
        # a worker that dies is started again
        if how == signal.SIGTERM:
            (worker,) = wait_for(lambda: found if len(found := workers_of(home)) == 1 else [], process, tmp_path)
            os.kill(worker, signal.SIGKILL)
            wait_for(lambda: "is started again" in (tmp_path / "err").read_text(), process, tmp_path)
            wait_for(lambda: set(workers_of(home)) - {worker}, process, tmp_path)
        # the line about a request is written after its answer
        wait_for(lambda: "/sign-in" in (tmp_path / "err").read_text(), process, tmp_path)
        process.send_signal(how)
        process.wait(timeout=LONGEST_S)
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
            timeout=LONGEST_S,
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
