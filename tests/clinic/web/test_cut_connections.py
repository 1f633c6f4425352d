"""A line that is cut in the middle of an upload: nothing of it is kept, and the same can be sent again."""

import contextlib
import http.client
import random
import socket
import sys
import time
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from sqlalchemy import func, select

from imu_rom.clinic import accounts, clinics, consents, patients, plans, sign_ins
from imu_rom.clinic.checking import check
from imu_rom.clinic.clock import SystemClock
from imu_rom.clinic.configuration import read_configuration
from imu_rom.clinic.schema import recordings
from imu_rom.clinic.service import open_service

sys.path.insert(0, str(Path(__file__).parents[1]))
from served_clinic import ServedClinic
from short_sessions import PLAN

LONGEST_S = 60
TODAY = datetime.now(UTC).date()
# larger than what is kept in memory on its way in
CONTENT = random.Random(5).randbytes(3 << 20)  # noqa: S311  no secret


@pytest.fixture(scope="module")
def clinic(tmp_path_factory):
    """A service without a worker, and a patient who is signed in."""
    made = ServedClinic(tmp_path_factory.mktemp("cut"))
    made.service = open_service(read_configuration(made.home, {"IMU_ROM_PUBLIC_URL": made.address}), SystemClock())
    now_ms = made.service.clock.now_ms()
    with made.service.database.writing() as connection:
        clinic = clinics.add_clinic(connection, now_ms, name="Cut (invented)", phone="+43 1 555 0100", time_zone="UTC")
        clinic_id = clinic.clinic_id
        author = accounts.add_clinician(connection, now_ms, clinic_id=clinic_id, sign_in_name="a@cut.example")
        patient = patients.add_patient(
            connection, now_ms, clinic_id=clinic_id, actor_id=None, label="A-01", language="en"
        )
        account = accounts.add_patient_account(connection, now_ms, patient, actor_id=None)
        consents.give_consent(connection, now_ms, patient, account.user_id)
        plans.add_plan(
            connection,
            now_ms,
            clinic_id=clinic_id,
            patient_id=patient.patient_id,
            author_id=author.user_id,
            toml=PLAN,
            applies_from=TODAY,
            reason="invented",
            based_on=None,
        )
        limits = made.service.configuration.limits
        made.token = sign_ins.start_session(connection, now_ms, account.user_id, limits).token
    made.begin("--quiet", "--no-worker")
    yield made
    made.end()
    made.service.database.close()


def request_of(clinic, content=CONTENT):
    """An upload as a browser sends it, head and all."""
    parts = [
        f'--b\r\ncontent-disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'
        for name, value in (("side", "left"), ("exercise", "drop"), ("day", TODAY), ("time", ""))
    ]
    parts.append('--b\r\ncontent-disposition: form-data; name="files"; filename="a.csv"\r\n\r\n')
    body = "".join(parts).encode() + content + b"\r\n--b--\r\n"
    host = urlsplit(clinic.address).netloc
    head = (
        f"POST /send HTTP/1.1\r\nhost: {host}\r\norigin: {clinic.address}\r\nsec-fetch-site: same-origin\r\n"
        f"cookie: imu_rom={clinic.token}\r\ncontent-type: multipart/form-data; boundary=b\r\n"
        f"content-length: {len(body)}\r\n\r\n"
    ).encode()
    return head, body


def connected(clinic):
    return socket.create_connection((urlsplit(clinic.address).hostname, urlsplit(clinic.address).port), LONGEST_S)


def wait_until(true, clinic):
    until = time.monotonic() + LONGEST_S
    while not true():
        assert time.monotonic() < until, clinic.log.read_text()
        time.sleep(0.02)


def kept(clinic):
    with clinic.service.database.reading() as connection:
        return connection.scalar(select(func.count()).select_from(recordings))


def left_behind(clinic):
    """Files on their way in that have a name."""
    places = (clinic.home / "incoming", *clinic.home.rglob("coming"))
    return [each for place in places for each in place.rglob("*") if each.is_file()]


def open_files_of(clinic):
    """Files on their way in that have none any more, but are open still."""
    found = []
    for each in Path(f"/proc/{clinic.process.pid}/fd").iterdir():
        # one that was closed since the list was made is not open
        with contextlib.suppress(FileNotFoundError):
            found.append(str(each.readlink()))
    return [each for each in found if "incoming" in each]


def answers(clinic):
    asked = http.client.HTTPConnection(urlsplit(clinic.address).netloc, timeout=LONGEST_S)
    asked.request("GET", "/today", headers={"cookie": f"imu_rom={clinic.token}"})
    status = asked.getresponse().status
    asked.close()
    return status == 200


@pytest.mark.parametrize("share", [0.0, 0.00005, 0.5, 0.999999])
def test_a_line_that_is_cut_keeps_nothing_and_the_service_goes_on(clinic, share):
    before = kept(clinic)
    head, body = request_of(clinic, CONTENT + b"cut")
    with connected(clinic) as line:
        line.sendall(head + body[: int(len(body) * share)])
        if share < 0.5:
            # too little for a file: nothing shows that it has come
            time.sleep(0.2)
        else:
            wait_until(lambda: open_files_of(clinic), clinic)
    assert answers(clinic)
    wait_until(lambda: not open_files_of(clinic), clinic)
    assert (kept(clinic), left_behind(clinic)) == (before, [])


def test_an_answer_that_never_arrived_is_given_again_for_the_same_files(clinic):
    before = kept(clinic)
    head, body = request_of(clinic, CONTENT + b"again")
    with connected(clinic) as line:
        line.sendall(head + body)
        # a line that is cut earlier may be seen to be cut before all that has come was read
        wait_until(lambda: kept(clinic) > before, clinic)
    with connected(clinic) as line:
        line.sendall(head + body)
        answer = line.recv(65_536).decode()
    assert answer.startswith("HTTP/1.1 303")
    assert "?again=yes" in answer
    assert kept(clinic) == before + 1


def test_a_server_that_is_killed_in_mid_upload_leaves_nothing_of_it(clinic):
    before = kept(clinic)
    head, body = request_of(clinic, CONTENT + b"killed")
    with connected(clinic) as line:
        line.sendall(head + body[: len(body) // 2])
        wait_until(lambda: open_files_of(clinic), clinic)
        clinic.kill()
    clinic.begin("--quiet", "--no-worker")
    assert (kept(clinic), left_behind(clinic)) == (before, [])
    assert check(clinic.service).problems == ()
