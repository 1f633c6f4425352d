"""Who can sign in: clinicians and patients of a clinic."""

import re
import secrets
from dataclasses import dataclass

from sqlalchemy import Connection, insert, select, update

from imu_rom.clinic.audit import record
from imu_rom.clinic.database import new_id
from imu_rom.clinic.patients import UNMISTAKABLE, Patient
from imu_rom.clinic.schema import patients, users, web_sessions
from imu_rom.errors import ClinicError

__all__ = [
    "CLINICIAN",
    "PATIENT",
    "Account",
    "Clinician",
    "account_of",
    "add_clinician",
    "add_patient_account",
    "find_clinician",
    "list_clinicians",
    "plain_name",
    "read_account",
    "set_active",
    "sign_in_name_of",
]

CLINICIAN = "clinician"
PATIENT = "patient"
# what a clinician's name may be made of: no spaces, and nothing that looks like something else
SIGN_IN_NAME = re.compile(r"[a-z0-9][a-z0-9._@+-]{2,99}")
GENERATED_LENGTH = 8


@dataclass(frozen=True)
class Account:
    """Somebody who can sign in.

    Parameters
    ----------
    user_id : str
        Its id.
    clinic_id : str
        The clinic that it is of.
    role : str
        ``"clinician"`` or ``"patient"``.
    patient_id : str or None
        The patient that it is; None for clinicians.
    """

    user_id: str
    clinic_id: str
    role: str
    patient_id: str | None


@dataclass(frozen=True)
class Clinician:
    """A clinician as the owner and colleagues see one.

    Parameters
    ----------
    user_id, clinic_id : str
        Ids.
    sign_in_name : str
        The name typed when signing in.
    joined : bool
        Whether a passphrase was set.
    second_factor : bool
        Whether a code is asked for too.
    active : bool
        False for one who can't sign in any more.
    """

    user_id: str
    clinic_id: str
    sign_in_name: str
    joined: bool
    second_factor: bool
    active: bool


def add_clinician(
    connection: Connection, now_ms: int, *, clinic_id: str, sign_in_name: str, actor_id: str | None = None
) -> Account:
    """Add a clinician.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    clinic_id : str
        Where.
    sign_in_name : str
        The name to sign in with, such as a work e-mail address; one of all clinics.
    actor_id : str, optional
        Who adds; None for the owner.

    Returns
    -------
    Account
        The new one, who can't sign in before being invited.

    Raises
    ------
    ClinicError
        If the name can't be used or is taken.
    """
    name = plain_name(sign_in_name)
    if not SIGN_IN_NAME.fullmatch(name):
        what = f"a name to sign in must be 3 to 100 of a-z, 0-9 and . _ @ + -, got '{sign_in_name}'"
        raise ClinicError(what, do="take the work e-mail address, for example")
    if connection.scalar(select(users.c.id).where(users.c.sign_in_name == name)) is not None:
        raise ClinicError(f"somebody signs in as '{name}' already", do="take another name")
    return _add(connection, now_ms, Account(new_id(), clinic_id, CLINICIAN, None), name, actor_id)


def add_patient_account(connection: Connection, now_ms: int, patient: Patient, *, actor_id: str | None) -> Account:
    """Give a patient a way to sign in, under a generated name that tells nothing; one that is there already is kept.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    patient : Patient
        Who.
    actor_id : str or None
        Who does it; None for the owner.

    Returns
    -------
    Account
        The patient's.
    """
    if patient.user_id is not None:
        return Account(patient.user_id, patient.clinic_id, PATIENT, patient.patient_id)
    account = Account(new_id(), patient.clinic_id, PATIENT, patient.patient_id)
    letters = "".join(secrets.choice(UNMISTAKABLE) for _ in range(GENERATED_LENGTH)).lower()
    _add(connection, now_ms, account, letters, actor_id)
    connection.execute(update(patients).where(patients.c.id == patient.patient_id).values(user_id=account.user_id))
    return account


def read_account(connection: Connection, user_id: str) -> Account | None:
    """Read an account.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    user_id : str
        Whose.

    Returns
    -------
    Account or None
        None where there is none that can sign in.
    """
    row = connection.execute(
        select(users.c.id, users.c.clinic_id, users.c.role, patients.c.id.label("patient_id"))
        .outerjoin(patients, patients.c.user_id == users.c.id)
        .where(users.c.id == user_id, users.c.active)
    ).one_or_none()
    return None if row is None else Account(row.id, row.clinic_id, row.role, row.patient_id)


def sign_in_name_of(connection: Connection, user_id: str) -> str | None:
    """Tell under which name somebody signs in.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    user_id : str
        Who.

    Returns
    -------
    str or None
        As it is typed; None where there is nobody.
    """
    return connection.scalar(select(users.c.sign_in_name).where(users.c.id == user_id))


def list_clinicians(connection: Connection, clinic_id: str) -> tuple[Clinician, ...]:
    """List a clinic's clinicians.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    clinic_id : str
        Where.

    Returns
    -------
    tuple of Clinician
        In the order of their names.
    """
    of_the_clinic = users.c.clinic_id == clinic_id, users.c.role == CLINICIAN
    rows = connection.execute(select(users).where(*of_the_clinic).order_by(users.c.sign_in_name))
    return tuple(
        Clinician(
            row.id,
            row.clinic_id,
            row.sign_in_name,
            row.passphrase_hash is not None,
            row.totp_step is not None,
            row.active,
        )
        for row in rows
    )


def find_clinician(connection: Connection, sign_in_name: str) -> Clinician:
    """Find a clinician for the owner.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    sign_in_name : str
        As typed.

    Returns
    -------
    Clinician
        Of any clinic.

    Raises
    ------
    ClinicError
        If nobody has that name.
    """
    name = plain_name(sign_in_name)
    clinic_id = connection.scalar(
        select(users.c.clinic_id).where(users.c.sign_in_name == name, users.c.role == CLINICIAN)
    )
    found = () if clinic_id is None else list_clinicians(connection, clinic_id)
    for each in found:
        if each.sign_in_name == name:
            return each
    raise ClinicError(f"no clinician signs in as '{sign_in_name}'", do="see imu-rom clinic list")


def account_of(clinician: Clinician) -> Account:
    """Give a clinician's account.

    Parameters
    ----------
    clinician : Clinician
        Who.

    Returns
    -------
    Account
        The same person's.
    """
    return Account(clinician.user_id, clinician.clinic_id, CLINICIAN, None)


def set_active(
    connection: Connection, now_ms: int, account: Account, *, active: bool, actor_id: str | None = None
) -> None:
    """Take away somebody's way to sign in, or give it back; who is signed in is signed out.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    account : Account
        Whose.
    active : bool
        Whether the person can sign in from now on.
    actor_id : str, optional
        Who does it; None for the owner.
    """
    connection.execute(update(users).where(users.c.id == account.user_id).values(active=active))
    if not active:
        theirs = web_sessions.c.user_id == account.user_id, web_sessions.c.revoked_at_ms.is_(None)
        connection.execute(update(web_sessions).where(*theirs).values(revoked_at_ms=now_ms))
    _record(connection, now_ms, account, actor_id, "activate user" if active else "deactivate user")


def plain_name(sign_in_name: str) -> str:
    """Write a name to sign in as it is kept, however it was typed.

    Parameters
    ----------
    sign_in_name : str
        As typed.

    Returns
    -------
    str
        Without spaces, in small letters.
    """
    return "".join(sign_in_name.split()).casefold()


def _add(connection: Connection, now_ms: int, account: Account, sign_in_name: str, actor_id: str | None) -> Account:
    connection.execute(
        insert(users).values(
            id=account.user_id,
            clinic_id=account.clinic_id,
            role=account.role,
            sign_in_name=sign_in_name,
            active=True,
            created_at_ms=now_ms,
        )
    )
    _record(connection, now_ms, account, actor_id, f"add {account.role}'s account")
    return account


def _record(connection: Connection, now_ms: int, account: Account, actor_id: str | None, action: str) -> None:
    record(
        connection,
        now_ms,
        clinic_id=account.clinic_id,
        actor_id=actor_id,
        action=action,
        object_kind="user",
        object_id=account.user_id,
    )
