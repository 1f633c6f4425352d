"""How long a patient waits from the end of an upload to its result, and how many uploads a worker does in a minute.

Run it by ``python tests/benchmarks/clinic_upload.py``; ``--write`` puts the table into ``results/clinic_upload.md``.
The recording is ten minutes, simulated, as a zip of its BIDS files; the worker is one process with its child.
"""

import argparse
import io
import os
import platform
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import zipfile
from pathlib import Path

from imu_rom.clinic.clock import SystemClock
from imu_rom.clinic.configuration import read_configuration
from imu_rom.clinic.course_states import course_state
from imu_rom.clinic.kept_recordings import read_recording
from imu_rom.clinic.service import open_service
from imu_rom.clinic.uploads import SentFile, receive
from imu_rom.clinic.worker import run_worker

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "clinic"))
from clinic_rows import add_clinic, add_clinician, add_patient, add_plan  # noqa: E402  lies beside the tests

SAMPLES = HERE.parents[1] / "sample_recordings"
PLAN = (SAMPLES / "plans" / "P-0001.toml").read_text("utf-8")
TABLE = HERE / "results" / "clinic_upload.md"


def session():
    """The sample of nine minutes, as files and as what is to be changed so that each copy is another session."""
    return sorted((SAMPLES / "dataset" / "sub-P0001").rglob("*_tracksys-imu_*"))


def as_zip(number):
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for each in session():
            text = each.read_text("utf-8")
            if each.name.endswith("_motion.tsv"):
                # another last row makes it another session
                text = text[: text.rindex("\n", 0, -1 - 200 * number) + 1]
            archive.writestr(each.name, text)
    return packed.getvalue()


def patient(service):
    with service.database.writing() as connection:
        clinic_id = add_clinic(connection)
        patient_id, user_id = add_patient(connection, clinic_id)
        add_plan(connection, patient_id, add_clinician(connection, clinic_id), PLAN, "2026-11-30")
    return patient_id, user_id


def waited(service, recording_id, patient_id, began):
    """Seconds until the result is there, and until the course with it is."""
    result_s = None
    while True:
        with service.database.reading() as connection:
            if result_s is None and read_recording(connection, recording_id).state != "waiting":
                assert read_recording(connection, recording_id).state == "usable"
                result_s = time.monotonic() - began
            if result_s is not None:
                state = course_state(connection, service.clock.now_ms(), patient_id)
                if state is not None and state.is_current:
                    return result_s, time.monotonic() - began
        time.sleep(0.1)


def send(service, who, content):
    began = time.monotonic()
    said = {"side": "left", "exercise": "heeldrop", "recorded_at": "2026-12-01T18:02:00+01:00"}
    received = receive(service, *who, [SentFile("session.zip", content)], **said)
    return received.recording_id, began, time.monotonic() - began


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--uploads", type=int, default=12)
    asked = parser.parse_args()
    rows = []
    with tempfile.TemporaryDirectory(dir=os.environ.get("TMPDIR")) as folder:
        service = open_service(read_configuration(Path(folder) / "home", {}), FixedDay())
        who = patient(service)
        stop = threading.Event()
        worker = threading.Thread(target=run_worker, args=(service, stop))
        recording_id, began, kept_s = send(service, who, as_zip(0))
        worker.start()
        rows.append(("the first, with the worker just started", kept_s, *waited(service, recording_id, who[0], began)))
        single = []
        for number in range(1, 6):
            recording_id, began, kept_s = send(service, who, as_zip(number))
            single.append((kept_s, *waited(service, recording_id, who[0], began)))
        rows.append(("one at a time, median of 5", *map(statistics.median, zip(*single, strict=True))))
        others = [patient(service) for _ in range(asked.uploads)]
        begun = time.monotonic()
        sent = [(who, *send(service, who, as_zip(0))) for who in others]
        ended = [waited(service, recording_id, who[0], began) for who, recording_id, began, _ in sent]
        took_s = time.monotonic() - begun
        rows.append(
            (
                f"{asked.uploads} patients at once, the last",
                max(each[3] for each in sent),
                *map(max, zip(*ended, strict=True)),
            )
        )
        stop.set()
        worker.join()
    commit = subprocess.run(["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=True)
    lines = [
        "# From upload to result",
        "",
        f"Commit {commit.stdout.strip()}, Python {platform.python_version()}, {os.cpu_count()} cores, one worker.",
        "A session of nine minutes, 50 Hz, two sensors, as a zip file; seconds of the clock on the wall.",
        "",
        "| upload | kept | result | course and pages |",
        "|---|---|---|---|",
        *(f"| {what} | {kept:.2f} | {result:.1f} | {course:.1f} |" for what, kept, result, course in rows),
        "",
        f"One worker does {asked.uploads * 60 / took_s:.0f} uploads a minute, each with its course.",
    ]
    print("\n".join(lines))
    if asked.write:
        TABLE.write_text("\n".join(lines) + "\n", "utf-8")


class FixedDay(SystemClock):
    """The machine's clock, put to the day after the sample was recorded."""

    def __init__(self):
        self.shift_ms = 1_796_212_800_000 - super().now_ms()

    def now_ms(self):
        return super().now_ms() + self.shift_ms


if __name__ == "__main__":
    main()
