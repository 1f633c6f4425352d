"""What a worker does with a job in tests where some recordings end their worker; workers import it by name."""

import os
import signal
import time
from pathlib import Path

from imu_rom.cohort.one_recording import Done, analyse_recording


def die_of_one(job):
    if "sub-B02" in job.recording.place and "dropleft" in job.recording.place:
        os.kill(os.getpid(), signal.SIGKILL)
    return analyse_recording(job)


def finish_at_once(job):
    return Done(job.recording.place, "key", b"{}")


def say_who_and_wait(job):
    """Leave the worker's number beside the dataset, and take a while, so that a test can end it midway."""
    told = Path(job.dataset.address).parent / "workers"
    (told / str(os.getpid())).touch()
    done = analyse_recording(job)
    time.sleep(0.5)
    return done
