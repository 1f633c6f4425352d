"""A run that is stopped once one recording is analysed, not ended before; workers import its work by name."""

import os
import subprocess
import sys
import threading
import time
from pathlib import Path

from imu_rom.cohort.one_recording import analyse_recording

_LONGEST_S = 120


def wait_but_for_the_first(job):
    """Analyse one recording at once, the others when there is a file ``go`` beside the dataset."""
    beside = Path(job.dataset.address).parent
    try:
        (beside / "first").touch(exist_ok=False)
    except FileExistsError:
        until = time.monotonic() + _LONGEST_S
        while not (beside / "go").exists() and time.monotonic() < until:
            time.sleep(0.02)
    return analyse_recording(job)


# a shell may have started the tests deaf to Ctrl-C
_COMMAND = f"""
import signal, sys
signal.signal(signal.SIGINT, signal.default_int_handler)
sys.path.insert(0, {os.fspath(Path(__file__).parent)!r})
from stopped_run import wait_but_for_the_first
from imu_rom.cohort.analysing import analyse_cohort
from imu_rom_cli import main
analyse_cohort.__kwdefaults__["work"] = wait_but_for_the_first
if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
"""


def children_of(pid):
    """Tell which processes one has started."""
    return Path(f"/proc/{pid}/task/{pid}/children").read_text().split()


def stop_after_the_first(words, how):
    """Run a command, stop it by a signal once a recording is analysed: its workers, what it returned and said."""
    run = subprocess.Popen(
        [sys.executable, "-c", _COMMAND, *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    # one that hangs ends all the same, and what it was waited for is not found
    too_long = threading.Timer(2 * _LONGEST_S, run.kill)
    too_long.start()
    with run:
        try:
            while '"analysed"' not in (line := run.stdout.readline()):
                assert line, run.stderr.read()
            workers = children_of(run.pid)
            run.send_signal(how)
            _, err = run.communicate()
        finally:
            too_long.cancel()
            run.kill()
    return workers, run.returncode, err
