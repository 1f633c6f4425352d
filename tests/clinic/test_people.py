"""Clinics that never see each other, patients and clinicians in them, and invitations that open once."""

import threading
from dataclasses import replace

import pytest
from sqlalchemy import select

from imu_rom.clinic.accounts import (
    add_clinician,
    add_patient_account,
    find_clinician,
    list_clinicians,
    read_account,
    set_active,
)
from imu_rom.clinic.audit import verify
from imu_rom.clinic.clinics import add_clinic, change_clinic, list_clinics, read_clinic
from imu_rom.clinic.configuration import Limits
from imu_rom.clinic.database import new_id
from imu_rom.clinic.invitations import accept_invitation, invite, open_invitation
from imu_rom.clinic.patients import (
    add_patient,
    ask_deletion,
    change_patient,
    list_patients,
    read_patient,
    reinstate_patient,
    retire_patient,
    take_back_deletion,
)
from imu_rom.clinic.schema import audit_entries, invitations, patients, users, web_sessions
from imu_rom.clinic.sign_ins import session_account, start_session
from imu_rom.clinic.tombstones import leave_tombstone
from imu_rom.errors import ClinicError

HOUR_MS = 3_600_000
LIMITS = Limits()
NO_HASH = "of no passphrase"


@pytest.fixture
def clinic(database):
    with database.writing() as connection:
        return add_clinic(connection, 0, name="Example Clinic", phone="+49 30 1234567", time_zone="Europe/Berlin")


@pytest.fixture
def clinician(database, clinic):
    with database.writing() as connection:
        return add_clinician(connection, 0, clinic_id=clinic.clinic_id, sign_in_name="anna@example.org")


@pytest.fixture
def patient(database, clinic):
    with database.writing() as connection:
        return add_patient(connection, 0, clinic_id=clinic.clinic_id, actor_id=None, label="Bed 4", language="de")


def written(database):
    with database.reading() as connection:
        assert verify(connection).broken is None
        return list(connection.scalars(select(audit_entries.c.action).order_by(audit_entries.c.number)))


def test_a_clinic_is_read_as_it_was_added_and_changed(database, clinic):
    with database.writing() as connection:
        assert read_clinic(connection, clinic.clinic_id) == clinic
        changed = change_clinic(connection, 1, replace(clinic, name="  Other   Clinic ", retention_days=3650))
        assert changed == replace(clinic, name="Other Clinic", retention_days=3650)
        assert list_clinics(connection) == (changed,)
        assert read_clinic(connection, new_id()) is None
    assert written(database) == ["add clinic", "change clinic"]


@pytest.mark.parametrize("phone", ["112", "+49 (30) 123-45.67", "030/1234567"])
def test_phone_numbers_are_kept_as_people_write_them(database, clinic, phone):
    with database.writing() as connection:
        assert change_clinic(connection, 1, replace(clinic, phone=phone)).phone == phone


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"phone": "call me"}, "must be digits"),
        ({"phone": "12"}, "must be digits"),
        ({"phone": "+49<script>30"}, "must be digits"),
        ({"name": " "}, "1 to 200 characters"),
        ({"name": "x\u202ey"}, "1 to 200 characters"),
        ({"time_zone": "Berlin"}, "such as Europe/Berlin, got 'Berlin'"),
        ({"retention_days": 0}, "at least 1 day"),
        ({"clinic_id": "0" * 32}, "no such clinic"),
    ],
)
def test_what_a_clinic_cannot_have_is_one_sentence_and_changes_nothing(database, clinic, change, said):
    with pytest.raises(ClinicError, match=said), database.writing() as connection:
        change_clinic(connection, 1, replace(clinic, **change))
    with database.reading() as connection:
        assert list_clinics(connection) == (clinic,)


def test_another_clinics_patient_is_as_if_there_were_none(database, clinic, patient):
    with database.writing() as connection:
        other = add_clinic(connection, 0, name="Other Clinic", phone=None, time_zone="UTC")
        assert read_patient(connection, clinic.clinic_id, patient.patient_id) == patient
        assert read_patient(connection, other.clinic_id, patient.patient_id) is None
        assert list_patients(connection, other.clinic_id) == ()
        theirs = replace(patient, clinic_id=other.clinic_id)
        for change in (retire_patient, ask_deletion, leave_tombstone):
            with pytest.raises(ClinicError, match="no such patient"):
                change(connection, 1, theirs, actor_id=None)
        assert read_patient(connection, clinic.clinic_id, patient.patient_id) == patient


def test_a_patient_is_put_aside_and_taken_back(database, clinic, patient):
    with database.writing() as connection:
        aside = retire_patient(connection, 5, patient, actor_id=None)
        assert retire_patient(connection, 6, aside, actor_id=None) == aside
        assert list_patients(connection, clinic.clinic_id) == ()
        assert list_patients(connection, clinic.clinic_id, with_retired=True) == (aside,)
        assert reinstate_patient(connection, 7, aside, actor_id=None) == patient
        assert list_patients(connection, clinic.clinic_id) == (patient,)
        asked = ask_deletion(connection, 8, patient, actor_id=None)
        assert (asked.deletion_asked_at_ms, ask_deletion(connection, 9, asked, actor_id=None)) == (8, asked)
        assert take_back_deletion(connection, 10, asked, actor_id=None) == patient
        changed = change_patient(connection, 11, patient, actor_id=None, label="Bed 5")
        assert read_patient(connection, clinic.clinic_id, patient.patient_id) == changed
        assert (changed.label, changed.language) == ("Bed 5", "de")
    assert written(database)[-5:] == [
        "retire patient",
        "reinstate patient",
        "ask deletion",
        "take back deletion",
        "change patient",
    ]


@pytest.mark.parametrize(("label", "language", "said"), [("", "en", "1 to 80"), ("x", "xx", "must be one of")])
def test_a_patient_needs_a_label_and_a_language_that_pages_have(database, clinic, label, language, said):
    with pytest.raises(ClinicError, match=said), database.writing() as connection:
        add_patient(connection, 0, clinic_id=clinic.clinic_id, actor_id=None, label=label, language=language)


def test_a_deleted_patient_leaves_a_row_that_tells_nothing_and_cannot_sign_in(database, clinic, patient):
    with database.writing() as connection:
        account = add_patient_account(connection, 0, patient, actor_id=None)
        patient = read_patient(connection, clinic.clinic_id, patient.patient_id)
        name = connection.scalar(select(users.c.sign_in_name).where(users.c.id == account.user_id))
        invite(connection, 0, account, limits=LIMITS, actor_id=None)
        token = start_session(connection, 0, account.user_id, LIMITS).token
        assert session_account(connection, token, 1) == account
    with database.writing() as connection:
        leave_tombstone(connection, 5, patient)
    with database.reading() as connection:
        left = [str(row) for table in (patients, users) for row in connection.execute(select(table))]
        assert read_patient(connection, clinic.clinic_id, patient.patient_id) is None
        assert list_patients(connection, clinic.clinic_id, with_retired=True) == ()
        assert read_account(connection, account.user_id) is None
        assert session_account(connection, token, 6) is None
        for table in (invitations, web_sessions):
            assert connection.execute(select(table)).all() == []
    for hidden in ("Bed 4", patient.pseudonym, name):
        assert not any(hidden in row for row in left)
    assert written(database)[-1] == "delete patient"


def test_a_name_to_sign_in_is_one_persons_in_all_clinics(database, clinician):
    with database.writing() as connection:
        other = add_clinic(connection, 0, name="Other Clinic", phone=None, time_zone="UTC")
        with pytest.raises(ClinicError, match=r"signs in as 'anna@example\.org' already"):
            add_clinician(connection, 0, clinic_id=other.clinic_id, sign_in_name="ANNA@example.org")
        for name in ("ab", "anna huber!", "ännä", "x" * 101):
            with pytest.raises(ClinicError, match="a name to sign in must be"):
                add_clinician(connection, 0, clinic_id=other.clinic_id, sign_in_name=name)


def test_clinicians_are_listed_with_what_they_have_done(database, clinic, clinician):
    with database.writing() as connection:
        (listed,) = list_clinicians(connection, clinic.clinic_id)
        assert (listed.sign_in_name, listed.joined, listed.active) == ("anna@example.org", False, True)
        assert find_clinician(connection, "Anna@Example.org") == listed
        with pytest.raises(ClinicError, match="no clinician signs in as 'nobody'"):
            find_clinician(connection, "nobody")
        invited = invite(connection, 0, clinician, limits=LIMITS, actor_id=None)
        accept_invitation(connection, 0, invited.token, NO_HASH)
        set_active(connection, 0, clinician, active=False)
        (listed,) = list_clinicians(connection, clinic.clinic_id)
        assert (listed.joined, listed.active) == (True, False)


def test_nobody_is_invited_while_the_phone_number_is_missing(database, clinic, clinician):
    with database.writing() as connection:
        change_clinic(connection, 0, replace(clinic, phone=None))
    with pytest.raises(ClinicError, match="phone number is missing"), database.writing() as connection:
        invite(connection, 0, clinician, limits=LIMITS, actor_id=None)


def test_an_invitation_opens_once_and_within_its_time(database, clinician):
    with database.writing() as connection:
        invited = invite(connection, 1000, clinician, limits=LIMITS, actor_id=None)
        assert invited.expires_at_ms == 1000 + LIMITS.invitation_hours * HOUR_MS
        found = open_invitation(connection, invited.expires_at_ms - 1, invited.token)
        assert (found.account, found.sign_in_name, found.purpose) == (clinician, "anna@example.org", "join")
        assert open_invitation(connection, invited.expires_at_ms, invited.token) is None
        assert open_invitation(connection, 1000, invited.token[:-1]) is None
        with pytest.raises(ClinicError, match="used already, or its time is over"):
            accept_invitation(connection, invited.expires_at_ms, invited.token, NO_HASH)
        assert accept_invitation(connection, 2000, invited.token, NO_HASH) == clinician
        assert open_invitation(connection, 2001, invited.token) is None
        with pytest.raises(ClinicError, match="used already"):
            accept_invitation(connection, 2001, invited.token, "another")
        assert connection.scalar(select(users.c.passphrase_hash)) == NO_HASH


def test_a_new_invitation_closes_the_one_before(database, clinician):
    with database.writing() as connection:
        first = invite(connection, 0, clinician, limits=LIMITS, actor_id=None)
        second = invite(connection, 0, clinician, limits=LIMITS, actor_id=None)
        assert open_invitation(connection, 1, first.token) is None
        assert open_invitation(connection, 1, second.token) is not None


def test_a_reset_is_shorter_and_signs_out_whoever_is_in(database, clinician):
    with database.writing() as connection:
        accept_invitation(connection, 0, invite(connection, 0, clinician, limits=LIMITS, actor_id=None).token, NO_HASH)
        token = start_session(connection, 0, clinician.user_id, LIMITS).token
        reset = invite(connection, 0, clinician, limits=LIMITS, actor_id=None)
        assert (reset.purpose, reset.expires_at_ms) == ("reset", LIMITS.reset_hours * HOUR_MS)
        # until it is used, the old passphrase and the sessions go on
        assert session_account(connection, token, 1) == clinician
        accept_invitation(connection, 1, reset.token, "another")
        assert session_account(connection, token, 2) is None


def test_whoever_is_closed_out_can_neither_be_invited_nor_use_an_invitation(database, clinician):
    with database.writing() as connection:
        invited = invite(connection, 0, clinician, limits=LIMITS, actor_id=None)
        set_active(connection, 0, clinician, active=False)
        assert open_invitation(connection, 1, invited.token) is None
        with pytest.raises(ClinicError, match="can't sign in any more"):
            invite(connection, 1, clinician, limits=LIMITS, actor_id=None)


def test_of_many_who_use_an_invitation_at_once_one_succeeds(database, clinician):
    with database.writing() as connection:
        invited = invite(connection, 0, clinician, limits=LIMITS, actor_id=None)
    outcomes = []
    together = threading.Barrier(4)

    def use(number):
        together.wait(60)
        try:
            with database.writing() as connection:
                accept_invitation(connection, 1, invited.token, f"hash {number}")
            outcomes.append(number)
        except ClinicError as error:
            outcomes.append(str(error))

    threads = [threading.Thread(target=use, args=(number,)) for number in range(4)]
    for each in threads:
        each.start()
    for each in threads:
        each.join(60)
    succeeded = [each for each in outcomes if isinstance(each, int)]
    assert len(outcomes) == 4
    assert len(succeeded) == 1
    with database.reading() as connection:
        assert connection.scalar(select(users.c.passphrase_hash)) == f"hash {succeeded[0]}"
    assert written(database).count("accept to join") == 1
