"""What stays of a patient whose data were deleted: a row that tells nothing, so that the trail still has its object."""

from sqlalchemy import Connection, delete, update

from imu_rom.clinic.audit import record
from imu_rom.clinic.database import new_id
from imu_rom.clinic.patients import Patient
from imu_rom.clinic.schema import invitations, patients, users, web_sessions
from imu_rom.errors import ClinicError

__all__ = ["leave_tombstone"]


def leave_tombstone(connection: Connection, now_ms: int, patient: Patient, *, actor_id: str | None = None) -> None:
    """Empty a patient's row and the patient's way to sign in; what others wrote of the patient is deleted before.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    patient : Patient
        Who.
    actor_id : str, optional
        Who does it; None for the owner.

    Raises
    ------
    ClinicError
        If there is no such patient, or only the tombstone.
    """
    this_one = patients.c.id == patient.patient_id, patients.c.clinic_id == patient.clinic_id
    emptied = {"label": "", "pseudonym": new_id(), "language": "", "deleted_at_ms": now_ms}
    done = connection.execute(update(patients).where(*this_one, patients.c.deleted_at_ms.is_(None)).values(**emptied))
    if done.rowcount != 1:
        raise ClinicError("there is no such patient", do="look at the list of patients")
    if patient.user_id is not None:
        connection.execute(delete(web_sessions).where(web_sessions.c.user_id == patient.user_id))
        connection.execute(delete(invitations).where(invitations.c.user_id == patient.user_id))
        nothing = {"passphrase_hash": None, "totp_secret": None, "totp_step": None, "active": False}
        this_user = users.c.id == patient.user_id
        connection.execute(update(users).where(this_user).values(sign_in_name=new_id(), **nothing))
    record(
        connection,
        now_ms,
        clinic_id=patient.clinic_id,
        actor_id=actor_id,
        action="delete patient",
        object_kind="patient",
        object_id=patient.patient_id,
    )
