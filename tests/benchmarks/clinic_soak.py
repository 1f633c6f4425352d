"""A clinic under load with kill -9 in between: each accepted upload is there once with its result; how long pages take.

Run it by ``python tests/benchmarks/clinic_soak.py``; ``--write`` puts the table into ``results/clinic_soak.md``.
Patients upload all the time, clinicians read; after a third of the time the server is killed and started again, after
two thirds its workers are killed. All of it is on this machine, the people who ask as well: they share its cores.
``--workers`` starts more of them; ``--database-url`` takes an empty PostgreSQL database for a file, and its table
is ``results/clinic_soak_postgresql.md``.
"""

import argparse
import http.client
import math
import os
import platform
import random
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import urlsplit

from sqlalchemy import select

from imu_rom.clinic import jobs
from imu_rom.clinic.accounts import add_clinician, add_patient_account
from imu_rom.clinic.checking import check
from imu_rom.clinic.clinics import add_clinic
from imu_rom.clinic.clock import SystemClock
from imu_rom.clinic.configuration import read_configuration
from imu_rom.clinic.consents import give_consent
from imu_rom.clinic.patients import add_patient
from imu_rom.clinic.plans import add_plan
from imu_rom.clinic.results import results_of
from imu_rom.clinic.schema import recordings
from imu_rom.clinic.service import open_service
from imu_rom.clinic.sign_ins import start_session

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parent / "clinic"))
from served_clinic import ServedClinic  # noqa: E402  lies beside the tests
from short_sessions import PLAN, simulated  # noqa: E402

TABLES = {"SQLite": HERE / "results" / "clinic_soak.md", "PostgreSQL": HERE / "results" / "clinic_soak_postgresql.md"}
EMPTY = "empty page (/health)"
BETWEEN_UPLOADS_S, BETWEEN_PAGES_S = 8.0, 1.0
IDLE_S = 3.0
DRAINED_WITHIN_S = 1200
BOUNDARY = "----one-part-ends-here"


@dataclass
class Soak:
    """What everybody who asks has in common.

    Parameters
    ----------
    address : str
        Where the service is.
    stop : Event
        Set when the time is over.
    """

    address: str
    stop: threading.Event = field(default_factory=threading.Event)
    lock: threading.Lock = field(default_factory=threading.Lock)
    took_s: dict = field(default_factory=lambda: defaultdict(list))
    accepted: dict = field(default_factory=dict)
    refused: Counter = field(default_factory=Counter)

    def noted(self, what, seconds):
        with self.lock:
            self.took_s[what].append(seconds)


class Browser:
    """Somebody who is signed in, on one connection that is opened again where it was cut.

    Parameters
    ----------
    soak : Soak
        What is noted.
    token : str
        Of the session.
    """

    def __init__(self, soak, token):
        self.soak = soak
        self.headers = {"cookie": f"imu_rom={token}", "origin": soak.address, "sec-fetch-site": "same-origin"}
        self.connection, self.used_at = None, 0.0

    def asks(self, method, path, what, body=None, kind=None):
        """Status, headers and content; None where the line was cut."""
        host, port = urlsplit(self.soak.address).hostname, urlsplit(self.soak.address).port
        if self.connection is not None and time.monotonic() > self.used_at + IDLE_S:
            # the server closes it soon; browsers open another, too
            self.connection.close()
            self.connection = None
        self.used_at = time.monotonic()
        self.connection = self.connection or http.client.HTTPConnection(host, port, timeout=60)
        headers = self.headers | ({} if kind is None else {"content-type": kind})
        began = time.monotonic()
        try:
            self.connection.request(method, path, body, headers)
            answer = self.connection.getresponse()
            content = answer.read()
        except (OSError, http.client.HTTPException):
            self.connection.close()
            self.connection = None
            with self.soak.lock:
                self.soak.refused["line cut"] += 1
            return None
        if answer.status in {200, 303}:
            self.soak.noted(what, time.monotonic() - began)
        else:
            with self.soak.lock:
                self.soak.refused[f"{what}: status {answer.status}"] += 1
        return answer.status, answer.headers, content


def form_of(fields, files):
    """A form with files, as browsers send it."""
    lines = []
    for name, value in fields.items():
        lines.append(f'--{BOUNDARY}\r\ncontent-disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode())
    for name, content in files.items():
        head = f'--{BOUNDARY}\r\ncontent-disposition: form-data; name="files"; filename="{name}"\r\n'
        lines += [head.encode(), b"content-type: application/octet-stream\r\n\r\n", content, b"\r\n"]
    return b"".join([*lines, f"--{BOUNDARY}--\r\n".encode()]), f"multipart/form-data; boundary={BOUNDARY}"


def another(session, number):
    """The same session with some last rows cut off, so that it is another one."""
    changed = {}
    for name, content in session.items():
        if name.endswith("_motion.tsv"):
            content = b"\n".join(content.rstrip(b"\n").split(b"\n")[: -1 - number]) + b"\n"  # noqa: PLW2901
        changed[name] = content
    return changed


def uploads(soak, token, session, who):
    """Send one session after the other, each until it is accepted."""
    browser, number = Browser(soak, token), 0
    today = datetime.now(UTC).date().isoformat()
    fields = {"side": "left", "exercise": "drop", "day": today, "time": ""}
    soak.stop.wait(random.random() * BETWEEN_UPLOADS_S)  # noqa: S311  no secret
    while not soak.stop.is_set():
        body, kind = form_of(fields, another(session, number))
        # the same files again until an answer came, also when the time is over
        while (answer := browser.asks("POST", "/send", "upload", body, kind)) is None or answer[0] != 303:
            time.sleep(0.5)
            if answer is not None and answer[0] == 400:
                return
        with soak.lock:
            soak.accepted[who, number] = answer[1]["location"].split("/")[-1].partition("?")[0]
        number += 1
        until = time.monotonic() + BETWEEN_UPLOADS_S
        browser.asks("GET", answer[1]["location"], "patient: what became of it")
        browser.asks("GET", "/today", "patient: today")
        soak.stop.wait(max(0.0, until - time.monotonic()))


def reads(soak, token, patient_ids):
    """Open one page after the other, as clinicians do."""
    browser = Browser(soak, token)
    chance = random.Random(token)  # noqa: S311  no secret
    while not soak.stop.is_set():
        patient_id = chance.choice(patient_ids)
        for path, what in (
            ("/patients", "clinician: list of patients"),
            (f"/patients/{patient_id}", "clinician: one patient"),
            (f"/patients/{patient_id}/decision", "clinician: deciding the stage"),
        ):
            browser.asks("GET", path, what)
            soak.stop.wait(BETWEEN_PAGES_S)
        with soak.lock:
            recording_id = chance.choice(list(soak.accepted.values()) or [None])
        if recording_id is not None:
            answer = browser.asks("GET", f"/recordings/{recording_id}", "clinician: one session")
            soak.stop.wait(BETWEEN_PAGES_S)
            if answer is not None and b"/report" in answer[2]:
                browser.asks("GET", f"/recordings/{recording_id}/report", "clinician: report, five megabytes")
                soak.stop.wait(BETWEEN_PAGES_S)


def waits(soak):
    """Ask for an empty page all along, which tells what the machine itself takes."""
    browser = Browser(soak, "none")
    while not soak.stop.wait(0.5):
        browser.asks("GET", "/health", EMPTY)


def set_up(service, patients, clinicians):
    """A clinic with people in it; tokens of their sessions, and the patients' ids."""
    now_ms = service.clock.now_ms()
    tokens, ids = [], []
    limits = service.configuration.limits
    with service.database.writing() as connection:
        clinic = add_clinic(connection, now_ms, name="Soak (invented)", phone="+43 1 555 0100", time_zone="UTC")
        authors = [
            add_clinician(connection, now_ms, clinic_id=clinic.clinic_id, sign_in_name=f"clinician{each}@soak.example")
            for each in range(clinicians)
        ]
        reading = [start_session(connection, now_ms, each.user_id, limits).token for each in authors]
        for each in range(patients):
            patient = add_patient(
                connection, now_ms, clinic_id=clinic.clinic_id, actor_id=None, label=f"S-{each:02d}", language="en"
            )
            account = add_patient_account(connection, now_ms, patient, actor_id=None)
            give_consent(connection, now_ms, patient, account.user_id)
            add_plan(
                connection,
                now_ms,
                clinic_id=clinic.clinic_id,
                patient_id=patient.patient_id,
                author_id=authors[0].user_id,
                toml=PLAN,
                applies_from=datetime.now(UTC).date(),
                reason="invented",
                based_on=None,
            )
            tokens.append(start_session(connection, now_ms, account.user_id, limits).token)
            ids.append(patient.patient_id)
    return tokens, reading, ids


def drained(service):
    """Seconds until no job is left."""
    began = time.monotonic()
    while time.monotonic() < began + DRAINED_WITHIN_S:
        with service.database.reading() as connection:
            if jobs.waiting(connection) == 0:
                return time.monotonic() - began
        time.sleep(0.2)
    raise SystemExit("there are still jobs: nothing is written")


def held(service, soak):
    """Sentences about what is kept; anything that is lost or there twice ends the program."""
    with service.database.reading() as connection:
        kept = connection.execute(select(recordings.c.id, recordings.c.state)).all()
        results = {each.id: len(results_of(connection, each.id)) for each in kept}
    states = Counter(each.state for each in kept)
    lost = set(soak.accepted.values()) - set(results)
    twice = len(soak.accepted) - len(set(soak.accepted.values()))
    unaccepted = set(results) - set(soak.accepted.values())
    without = [each for each, count in results.items() if count != 1]
    problems = check(service).problems
    said = [
        f"{len(soak.accepted)} uploads accepted, {len(kept)} recordings kept: {len(lost)} lost,",
        f"{twice} taken for another,",
        f"{len(unaccepted)} kept that no answer told of.",
        f"{len(kept) - len(without)} have one result, {len(without)} none or several; states: {dict(states)}.",
        f"`imu-rom clinic check` finds {len(problems)} problems.",
    ]
    good = not lost and not twice and not unaccepted and not without and not problems
    return good, said


def begun_workers(clinic, count):
    """Workers beside the server's own, as on other machines that share its database and files."""
    command = [sys.executable, "-m", "imu_rom_cli", "clinic", "work", "--home", str(clinic.home)]
    with clinic.log.open("ab") as log:
        return [
            subprocess.Popen(command, env=clinic.environment, stdin=subprocess.PIPE, stdout=log, stderr=log)
            for _ in range(count)
        ]


def killed_in_between(clinic, asked, more):
    """Three parts of the time, with kill -9 between them: of the server, then of all workers."""
    time.sleep(asked.seconds / 3)
    clinic.kill()
    down = time.monotonic()
    clinic.begin("--quiet")
    down_s = time.monotonic() - down
    time.sleep(asked.seconds / 3)
    killed = clinic.workers()
    for each in killed:
        os.kill(each, 9)
    for each in more:
        each.wait()
    # the server starts its own again, and whoever keeps the other machines theirs
    more = begun_workers(clinic, asked.workers - 1)
    time.sleep(asked.seconds / 3)
    return down_s, len(killed), more


def p95(values):
    return sorted(values)[math.ceil(0.95 * len(values)) - 1]


def table_of(soak):
    empty_s = p95(soak.took_s[EMPTY])
    lines = ["| what is asked | times | median ms | 95th percentile ms | of an empty page's |", "|---|---|---|---|---|"]
    for what in sorted(soak.took_s):
        values = soak.took_s[what]
        lines.append(
            f"| {what} | {len(values)} | {statistics.median(values) * 1000:.0f} | {p95(values) * 1000:.0f} "
            f"| {p95(values) / empty_s:.1f} |"
        )
    pages = [each for what, values in soak.took_s.items() if what not in {EMPTY, "upload"} for each in values]
    together_s = p95(pages)
    told = f"Of all pages: 95th percentile {together_s * 1000:.0f} ms, {together_s / empty_s:.1f} of an empty page's."
    return [*lines, "", told, "Asked for are 300 ms."]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--write", action="store_true")
    parser.add_argument("--patients", type=int, default=20)
    parser.add_argument("--clinicians", type=int, default=2)
    parser.add_argument("--seconds", type=float, default=120.0)
    parser.add_argument("--database-url", help="of an empty PostgreSQL database; else SQLite's file")
    parser.add_argument("--workers", type=int, default=1)
    asked = parser.parse_args()
    load = os.getloadavg()[0]
    with tempfile.TemporaryDirectory(dir=os.environ.get("TMPDIR")) as folder:
        clinic = ServedClinic(folder)
        environ = {"IMU_ROM_PUBLIC_URL": clinic.address}
        if asked.database_url:
            environ["IMU_ROM_DATABASE_URL"] = asked.database_url
        clinic.environment |= environ
        service = open_service(read_configuration(clinic.home, environ), SystemClock())
        made = Path(folder) / "sessions"
        made.mkdir()
        (session,) = simulated(made, 1)
        kind = "SQLite" if service.database.is_sqlite else "PostgreSQL"
        patients, clinicians, ids = set_up(service, asked.patients, asked.clinicians)
        clinic.begin("--quiet")
        more = begun_workers(clinic, asked.workers - 1)
        soak = Soak(clinic.address)
        people = [threading.Thread(target=waits, args=(soak,))]
        for number, token in enumerate(patients):
            people.append(threading.Thread(target=uploads, args=(soak, token, session, number)))
        people += [threading.Thread(target=reads, args=(soak, token, ids)) for token in clinicians]
        for each in people:
            each.start()
        down_s, killed, more = killed_in_between(clinic, asked, more)
        soak.stop.set()
        for each in people:
            each.join()
        drain_s = drained(service)
        good, said = held(service, soak)
        for each in more:
            each.terminate()
            each.wait()
        clinic.end()
        service.database.close()
    commit = subprocess.run(["git", "rev-parse", "--short", "HEAD"], capture_output=True, text=True, check=True)
    lines = [
        "# A clinic under load",
        "",
        f"Commit {commit.stdout.strip()}, Python {platform.python_version()}, {os.cpu_count()} cores",
        f"(their load before it began: {load:.1f}), {kind}, one server, workers: {asked.workers}.",
        f"{asked.patients} patients upload a session of 3.6 minutes (50 Hz, two sensors)",
        f"every {BETWEEN_UPLOADS_S:.0f} s for {asked.seconds:.0f} s, {asked.clinicians} clinicians read.",
        "After a third kill -9 of the server,",
        f"which answers again after {down_s:.1f} s; after two thirds of all workers ({killed}).",
        "",
        *said,
        f"Requests that were not answered: {dict(soak.refused)}; uploads among them were sent again.",
        f"The last result was there {drain_s:.0f} s after the last upload.",
        "",
        *table_of(soak),
    ]
    print("\n".join(lines))
    if asked.write and good:
        TABLES[kind].write_text("\n".join(lines) + "\n", "utf-8")
    raise SystemExit(0 if good else 1)


if __name__ == "__main__":
    main()
