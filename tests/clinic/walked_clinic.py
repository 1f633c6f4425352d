"""Two clinics in which everything has a hostile name, and visitors who ask their pages over TLS, without a server."""

import asyncio
import hashlib
import json
from dataclasses import dataclass, replace
from pathlib import Path

import httpx
from clinic_rows import add_course_state, add_plan, add_recording
from sqlalchemy import insert, select

from imu_rom.clinic import accounts, clinics, consents, diary, patients, sign_ins
from imu_rom.clinic.database import new_id
from imu_rom.clinic.local_time import local_day
from imu_rom.clinic.messages import send_message
from imu_rom.clinic.results import add_result
from imu_rom.clinic.schema import decisions, exports, mark_versions, metadata, recording_files, users

SAMPLES = Path(__file__).parents[2] / "sample_recordings"
PLAN = (SAMPLES / "course" / "plan.toml").read_text("utf-8")
RESULT = next(iter(sorted((SAMPLES / "course" / "results").rglob("*halfdrop*/result.json")))).read_bytes()
ADDRESS = "https://clinic.example"
COOKIE = "__Host-imu_rom"
SHUT = "hostile"
# what would end an attribute, a script, a text area and a heading, and what a template would work out
HOSTILE = "\"'></script></textarea></title><hostile onhostile=1>{{7*7}}"
OUR_OWN = {"origin": ADDRESS, "sec-fetch-site": "same-origin"}


@dataclass
class Side:
    """A clinic, two patients of it, and what belongs to the first of them."""

    clinic: object
    clinician: object
    patient: object
    account: object
    other: object
    other_account: object
    ids: dict[str, str]


def furnished(service, name):
    """A clinic with everything in it that a page can show, hostile wherever people write."""
    now_ms, words = service.clock.now_ms(), f"{HOSTILE} {name}"
    page = f"<!doctype html><title>of {name}</title><main>{name}</main>".encode()
    kept = {each: service.files.put(content) for each, content in (("page", page), ("result", RESULT))}
    with service.database.writing() as connection:
        clinic = clinics.add_clinic(
            connection, now_ms, name=words, phone="+43 1 555 0100", time_zone="Europe/Vienna", retention_days=1
        )
        clinician = accounts.add_clinician(
            connection, now_ms, clinic_id=clinic.clinic_id, sign_in_name=f"clinician@{name.lower()}.example"
        )
        # two of whom one might be shown the other's
        people = []
        for label in (words, f"other {words}"):
            person = patients.add_patient(
                connection, now_ms, clinic_id=clinic.clinic_id, actor_id=None, label=label, language="en"
            )
            account = accounts.add_patient_account(connection, now_ms, person, actor_id=None)
            consents.give_consent(connection, now_ms, person, account.user_id)
            people += [patients.read_patient(connection, clinic.clinic_id, person.patient_id), account]
        patient, account = people[:2]
        whose = {"clinic_id": clinic.clinic_id, "patient_id": patient.patient_id, "author_id": clinician.user_id}
        by_hand = {"patient_id": patient.patient_id, "author_id": clinician.user_id, "created_at_ms": now_ms}
        toml = PLAN.replace('title = "Left heel', f"title = {json.dumps(words)} # Left heel")
        plan_id = add_plan(connection, patient.patient_id, clinician.user_id, toml, "2026-11-30")
        recording_id = add_recording(connection, patient.patient_id, state="usable", exercise=words, reason=words)
        connection.execute(
            insert(recording_files).values(
                recording_id=recording_id, position=0, name=words, sha256=kept["page"].sha256, size=len(page)
            )
        )
        mark_id, decision_id, export_id = new_id(), new_id(), new_id()
        connection.execute(
            insert(mark_versions).values(
                id=mark_id,
                recording_id=recording_id,
                version=1,
                marks_json=json.dumps({"marks": [], "by": words}),
                author_id=clinician.user_id,
                created_at_ms=now_ms,
            )
        )
        add_result(
            connection,
            now_ms,
            recording_id,
            program_version="0",
            plan_version_id=plan_id,
            mark_version_id=mark_id,
            files={"result.json": kept["result"], "report.html": kept["page"]},
        )
        line = diary.add_line(
            connection,
            now_ms,
            patient,
            account.user_id,
            day=local_day(now_ms, clinic.time_zone),
            fields={"red_flag": "pop", "note": words, "exercise": "halfdrop"},
            recording_id=recording_id,
        )
        message = send_message(connection, now_ms, text=words, **whose)
        connection.execute(
            insert(decisions).values(
                id=decision_id,
                decision="stay",
                stage_from=words,
                stage_to=words,
                reason=words,
                criteria_json="{}",
                plan_version_id=plan_id,
                **by_hand,
            )
        )
        connection.execute(
            insert(exports).values(id=export_id, form="course", sha256=kept["page"].sha256, size=len(page), **by_hand)
        )
        add_course_state(connection, patient.patient_id, clinician_page=page, patient_page=page)
    ids = {
        "patient_id": patient.patient_id,
        "recording_id": recording_id,
        "entry_id": line.entry,
        "plan_version_id": plan_id,
        "mark_version_id": mark_id,
        "decision_id": decision_id,
        "export_id": export_id,
        "message_id": message.message_id,
    }
    return Side(clinic, clinician, patient, account, *people[2:], ids)


def behind_tls(service):
    """The same service as it is reached through a proxy with TLS."""
    return replace(service, configuration=replace(service.configuration, public_url=ADDRESS))


def token_for(service, user_id):
    """Sign somebody in without the work of a passphrase."""
    with service.database.writing() as connection:
        return sign_ins.start_session(connection, service.clock.now_ms(), user_id, service.configuration.limits).token


def waiting_for_a_code(service, account):
    """Sign a clinician in up to the code of the second factor."""
    with service.database.writing() as connection:
        connection.execute(users.update().where(users.c.id == account.user_id).values(totp_step=0))
    token = token_for(service, account.user_id)
    with service.database.writing() as connection:
        connection.execute(users.update().where(users.c.id == account.user_id).values(totp_step=None))
    return token


def asked(application, requests):
    """Send requests one after the other; each is (method, path, token, headers, form)."""

    async def all_of_them():
        transport = httpx.ASGITransport(application)
        answers = []
        async with httpx.AsyncClient(transport=transport, base_url=ADDRESS) as client:
            for method, path, token, headers, form in requests:
                own = dict(headers) | ({} if token is None else {"cookie": f"{COOKIE}={token}"})
                sent = {"data": form} if form is not None else {}
                answers.append(await client.request(method, path, headers=own, **sent))
                client.cookies.clear()
        return answers

    return asyncio.run(all_of_them())


def everything_kept(service):
    """What stands in all tables, to be compared with later."""
    with service.database.reading() as connection:
        return {
            name: hashlib.sha256(repr(sorted(map(repr, connection.execute(select(table)).all()))).encode()).hexdigest()
            for name, table in metadata.tables.items()
        }
