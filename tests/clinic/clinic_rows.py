"""Rows that other rows need, made by hand where a test is about something else."""

import hashlib

from imu_rom.clinic.database import new_id
from imu_rom.clinic.schema import clinics, course_states, patients, plan_versions, recordings, users

MADE_AT_MS = 1_796_025_600_000


def add_clinic(connection, **values):
    clinic_id = new_id()
    given = {"name": "Clinic of the invented", "phone": "+49 000 0000", "time_zone": "Europe/Berlin"} | values
    connection.execute(clinics.insert().values(id=clinic_id, created_at_ms=MADE_AT_MS, **given))
    return clinic_id


def add_patient(connection, clinic_id, **values):
    """A patient with an account; gives the patient's and the user's id."""
    patient_id, user_id = new_id(), new_id()
    account = {"role": "patient", "sign_in_name": user_id, "active": True, "created_at_ms": MADE_AT_MS}
    connection.execute(users.insert().values(id=user_id, clinic_id=clinic_id, **account))
    given = {"label": "Somebody", "pseudonym": patient_id, "language": "en", "created_at_ms": MADE_AT_MS} | values
    connection.execute(patients.insert().values(id=patient_id, clinic_id=clinic_id, user_id=user_id, **given))
    return patient_id, user_id


def add_clinician(connection, clinic_id):
    user_id = new_id()
    account = {"role": "clinician", "sign_in_name": user_id, "active": True, "created_at_ms": MADE_AT_MS}
    connection.execute(users.insert().values(id=user_id, clinic_id=clinic_id, **account))
    return user_id


def add_recording(connection, patient_id, **values):
    recording_id = new_id()
    given = {
        "content_sha256": new_id() * 2,
        "side": "left",
        "exercise": "heeldrop",
        "state": "waiting",
        "received_at_ms": MADE_AT_MS,
    } | values
    connection.execute(recordings.insert().values(id=recording_id, patient_id=patient_id, **given))
    return recording_id


def add_plan(connection, patient_id, author_id, toml, applies_from, version=1):
    plan_version_id = new_id()
    connection.execute(
        plan_versions.insert().values(
            id=plan_version_id,
            patient_id=patient_id,
            version=version,
            toml=toml,
            sha256=hashlib.sha256(toml.encode()).hexdigest(),
            applies_from=applies_from,
            author_id=author_id,
            reason="invented",
            created_at_ms=MADE_AT_MS,
        )
    )
    return plan_version_id


def add_course_state(connection, patient_id, **values):
    given = {
        "made_from_sha256": "0" * 64,
        "program_version": "0",
        "course_json": "{}",
        "attention_json": "",
        "made_at_ms": MADE_AT_MS,
    } | values
    connection.execute(course_states.insert().values(patient_id=patient_id, **given))
