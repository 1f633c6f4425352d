"""Clinics of one database, which never see each other."""

import os
import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from zoneinfo import available_timezones

from sqlalchemy import Connection, Row, insert, select, update

from imu_rom.clinic.audit import record
from imu_rom.clinic.database import new_id
from imu_rom.clinic.schema import clinics
from imu_rom.errors import ClinicError

__all__ = [
    "Clinic",
    "add_clinic",
    "change_clinic",
    "find_clinic",
    "list_clinics",
    "machine_time_zone",
    "read_clinic",
    "the_clinic",
]

LONGEST_NAME = 200
LONGEST_PHONE = 40
# digits in groups, as people write them; emergency numbers have three
PHONE = re.compile(r"\+?[0-9][0-9 ()/.\-]*[0-9]")
FEWEST_DIGITS = 3


@dataclass(frozen=True)
class Clinic:
    """A clinic.

    Parameters
    ----------
    clinic_id : str
        Its id.
    name : str
        As patients know it.
    phone : str or None
        Which number patients call; while it is missing, nobody is invited.
    time_zone : str
        Where it is, in IANA's names.
    retention_days : int or None
        How long the owner says that data must be kept; None keeps everything.
    """

    clinic_id: str
    name: str
    phone: str | None
    time_zone: str
    retention_days: int | None


def add_clinic(
    connection: Connection,
    now_ms: int,
    *,
    name: str,
    phone: str | None,
    time_zone: str,
    retention_days: int | None = None,
    actor_id: str | None = None,
) -> Clinic:
    """Add a clinic.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    name : str
        As patients know it.
    phone : str or None
        Which number patients call.
    time_zone : str
        Where it is, such as ``Europe/Berlin``.
    retention_days : int, optional
        How long data must be kept.
    actor_id : str, optional
        Who adds it; None for the owner.

    Returns
    -------
    Clinic
        The new one.

    Raises
    ------
    ClinicError
        If one of the values can't be used.
    """
    clinic = Clinic(new_id(), _name(name), _phone(phone), _time_zone(time_zone), _days(retention_days))
    connection.execute(
        insert(clinics).values(
            id=clinic.clinic_id,
            name=clinic.name,
            phone=clinic.phone,
            time_zone=clinic.time_zone,
            retention_days=clinic.retention_days,
            created_at_ms=now_ms,
        )
    )
    _record(connection, now_ms, clinic.clinic_id, actor_id, "add clinic")
    return clinic


def change_clinic(connection: Connection, now_ms: int, clinic: Clinic, *, actor_id: str | None = None) -> Clinic:
    """Change a clinic's name, phone number, time zone or retention.

    Parameters
    ----------
    connection : Connection
        Of a writing transaction.
    now_ms : int
        When.
    clinic : Clinic
        As it should be; found by its id.
    actor_id : str, optional
        Who changes it; None for the owner.

    Returns
    -------
    Clinic
        As it is now.

    Raises
    ------
    ClinicError
        If one of the values can't be used, or there is no such clinic.
    """
    changed = Clinic(
        clinic.clinic_id,
        _name(clinic.name),
        _phone(clinic.phone),
        _time_zone(clinic.time_zone),
        _days(clinic.retention_days),
    )
    done = connection.execute(
        update(clinics)
        .where(clinics.c.id == clinic.clinic_id)
        .values(
            name=changed.name,
            phone=changed.phone,
            time_zone=changed.time_zone,
            retention_days=changed.retention_days,
        )
    )
    if done.rowcount != 1:
        raise ClinicError("there is no such clinic", do="see imu-rom clinic list")
    _record(connection, now_ms, changed.clinic_id, actor_id, "change clinic")
    return changed


def read_clinic(connection: Connection, clinic_id: str) -> Clinic | None:
    """Read a clinic.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    clinic_id : str
        Its id.

    Returns
    -------
    Clinic or None
        None where there is none.
    """
    row = connection.execute(select(clinics).where(clinics.c.id == clinic_id)).one_or_none()
    return None if row is None else _clinic(row)


def list_clinics(connection: Connection) -> tuple[Clinic, ...]:
    """List all clinics.

    Parameters
    ----------
    connection : Connection
        Of a transaction.

    Returns
    -------
    tuple of Clinic
        In the order of their names.
    """
    return tuple(_clinic(row) for row in connection.execute(select(clinics).order_by(clinics.c.name, clinics.c.id)))


def find_clinic(connection: Connection, name: str) -> Clinic | None:
    """Find a clinic by its name.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    name : str
        As typed.

    Returns
    -------
    Clinic or None
        None where none has that name.
    """
    return next((each for each in list_clinics(connection) if each.name == " ".join(name.split())), None)


def the_clinic(connection: Connection, name: str | None) -> Clinic:
    """Find the clinic that the owner means.

    Parameters
    ----------
    connection : Connection
        Of a transaction.
    name : str or None
        Its name; not needed where there is only one.

    Returns
    -------
    Clinic
        The one.

    Raises
    ------
    ClinicError
        If there is none, or several and none is named.
    """
    known = list_clinics(connection)
    if not known:
        raise ClinicError("there is no clinic yet", do="make one by imu-rom clinic init")
    names = ", ".join(each.name for each in known)
    if name is None:
        if len(known) > 1:
            raise ClinicError(f"there are several clinics: {names}", do="name one by --clinic")
        return known[0]
    found = find_clinic(connection, name)
    if found is None:
        raise ClinicError(f"there is no clinic '{name}'", do=f"name one of {names}")
    return found


def machine_time_zone() -> str:
    """Tell which time zone this machine is set to.

    Returns
    -------
    str
        Its name; ``UTC`` where the machine doesn't say.
    """
    try:
        name = os.environ.get("TZ") or str(Path("/etc/localtime").readlink()).partition("zoneinfo/")[2]
    except OSError:
        name = ""
    return name if name in _time_zones() else "UTC"


def _clinic(row: Row[tuple[object, ...]]) -> Clinic:
    return Clinic(row.id, row.name, row.phone, row.time_zone, row.retention_days)


def _record(connection: Connection, now_ms: int, clinic_id: str, actor_id: str | None, action: str) -> None:
    record(
        connection,
        now_ms,
        clinic_id=clinic_id,
        actor_id=actor_id,
        action=action,
        object_kind="clinic",
        object_id=clinic_id,
    )


def _name(name: str) -> str:
    name = " ".join(name.split())
    if not 1 <= len(name) <= LONGEST_NAME or not name.isprintable():
        raise ClinicError(f"a clinic's name must have 1 to {LONGEST_NAME} characters, got {len(name)}")
    return name


def _phone(phone: str | None) -> str | None:
    phone = " ".join((phone or "").split())
    if not phone:
        return None
    digits = sum(each.isdigit() for each in phone)
    if not PHONE.fullmatch(phone) or digits < FEWEST_DIGITS or len(phone) > LONGEST_PHONE:
        raise ClinicError(f"a phone number must be digits, such as +49 30 1234567, got '{phone}'")
    return phone


@cache
def _time_zones() -> frozenset[str]:
    """Names of all; a walk through some hundreds of files."""
    return frozenset(available_timezones())


def _time_zone(time_zone: str) -> str:
    if time_zone not in _time_zones():
        raise ClinicError(f"a time zone must be a name such as Europe/Berlin, got '{time_zone}'")
    return time_zone


def _days(days: int | None) -> int | None:
    if days is not None and days < 1:
        raise ClinicError(f"data must be kept for at least 1 day, got {days}", do="leave it out to keep everything")
    return days
