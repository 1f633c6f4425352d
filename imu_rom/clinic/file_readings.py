"""How the files of a patient's logger are read, where they don't say it themselves: what the clinician says once."""

import hashlib
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from typing import Any, Self

from sqlalchemy import Connection, func, insert, select

from imu_rom.clinic import audit, jobs
from imu_rom.clinic.database import new_id
from imu_rom.clinic.schema import file_reading_versions, recordings
from imu_rom.errors import ClinicError, RecordingError
from imu_rom.recording.columns import check_columns
from imu_rom.units import Quantity, si_factor

__all__ = ["CHOICES", "FileReading", "FileReadingVersion", "add_file_reading", "file_readings", "newest_file_reading"]

LONGEST_TEXT = 1000
CHOICES: dict[str, tuple[str, ...]] = {
    "separator": ("tab", "comma", "semicolon"),
    "decimal": ("point", "comma"),
    "clocks": ("shared", "separate"),
}
"""Words of the fields that have a closed list; nothing means that it is found out."""
_QUANTITIES: dict[str, Quantity] = {
    "accelerometer_unit": "acceleration",
    "gyroscope_unit": "angular rate",
    "magnetometer_unit": "magnetic field",
    "time_unit": "time",
}
_LARGEST_RATE_HZ = 1e6


@dataclass(frozen=True)
class FileReading:
    """What delimited files of a logger leave open, as ``imu-rom analyse`` asks for it; an empty text says nothing.

    Parameters
    ----------
    columns : str
        Entries ``[POINT.]KIND=COLUMNS``, parted by semicolons or lines.
    accelerometer_unit, gyroscope_unit, magnetometer_unit, time_unit : str
        Units that the heading does not give.
    rate_hz : str
        Sampling rate of files without time stamps.
    separator, decimal : str
        Words of `CHOICES`.
    proximal_name, distal_name : str
        What the names of the two files have in them, where each sensor has its own; else the plan's words for them.
    clocks : str
        Whether two files share a clock.
    """

    columns: str = ""
    accelerometer_unit: str = ""
    gyroscope_unit: str = ""
    magnetometer_unit: str = ""
    time_unit: str = ""
    rate_hz: str = ""
    separator: str = ""
    decimal: str = ""
    proximal_name: str = ""
    distal_name: str = ""
    clocks: str = ""

    @classmethod
    def of(cls, values: Mapping[str, str]) -> Self:
        """Take what was filled in, and check it.

        Parameters
        ----------
        values : mapping of str to str
            By field; what is not there is empty.

        Returns
        -------
        FileReading
            That says nothing impossible.

        Raises
        ------
        ClinicError
            A field says something that it can't mean; ``where`` names it.
        """
        given = {each.name: values.get(each.name, "").strip() for each in fields(cls)}
        given["columns"] = "; ".join(
            each.strip() for each in given["columns"].replace("\n", ";").split(";") if each.strip()
        )
        for name, value in given.items():
            if len(value) > LONGEST_TEXT or not value.isprintable():
                raise ClinicError(f"must be at most {LONGEST_TEXT} plain letters", where=name)
            if name in CHOICES and value and value not in CHOICES[name]:
                raise ClinicError(f"must be one of {', '.join(CHOICES[name])}, got {value!r:.40}", where=name)
        try:
            check_columns([given["columns"]])
        except RecordingError as error:
            entry = error.where.removeprefix("--columns ")
            raise ClinicError(f"{entry} {error.what}", where="columns") from None
        for name, quantity in _QUANTITIES.items():
            try:
                si_factor(given[name] or "s", quantity if given[name] else "time")
            except RecordingError as error:
                raise ClinicError(error.what, where=name) from None
        _check_rate(given["rate_hz"])
        one, other = given["proximal_name"].casefold(), given["distal_name"].casefold()
        if bool(one) != bool(other) or (one and (one in other or other in one)):
            raise ClinicError(
                "the names must have two words that are not part of each other, one for each sensor",
                where="distal_name",
            )
        return cls(**given)

    @property
    def says_something(self) -> bool:
        """False where all is left to the files."""
        return any(asdict(self).values())

    def options(self) -> dict[str, Any]:
        """Give what it says of a file.

        Returns
        -------
        dict
            Fields of `imu_rom.recording.delimited.DelimitedOptions`, without sensors, files and clocks.
        """
        units: dict[str, Any] = {name: getattr(self, name) or None for name in _QUANTITIES}
        return units | {
            "columns": (self.columns,) if self.columns else (),
            "rate_hz": float(self.rate_hz) if self.rate_hz else None,
            "separator": self.separator or None,
            "decimal": self.decimal or None,
        }


def _check_rate(value: str) -> None:
    try:
        rate_hz = float(value or 1)
    except ValueError:
        rate_hz = 0.0
    if not 0 < rate_hz < _LARGEST_RATE_HZ:
        raise ClinicError(f"must be a positive number of Hz, got {value!r:.40}", where="rate_hz")


@dataclass(frozen=True)
class FileReadingVersion:
    """One version of it.

    Parameters
    ----------
    version : int
        From 1.
    reading : FileReading
        What it says.
    author_id : str
        User who wrote it.
    created_at_ms : int
        When.
    """

    version: int
    reading: FileReading
    author_id: str
    created_at_ms: int


def file_readings(connection: Connection, patient_id: str) -> tuple[FileReadingVersion, ...]:
    """Give all versions.

    Parameters
    ----------
    connection : Connection
        Any.
    patient_id : str
        Whose files.

    Returns
    -------
    tuple of FileReadingVersion
        The newest first; the first one counts.
    """
    asked = select(file_reading_versions).where(file_reading_versions.c.patient_id == patient_id)
    return tuple(
        FileReadingVersion(row.version, FileReading(**json.loads(row.reading_json)), row.author_id, row.created_at_ms)
        for row in connection.execute(asked.order_by(file_reading_versions.c.version.desc()))
    )


def newest_file_reading(connection: Connection, patient_id: str) -> FileReading:
    """Give what counts now.

    Parameters
    ----------
    connection : Connection
        Any.
    patient_id : str
        Whose files.

    Returns
    -------
    FileReading
        That says nothing where nothing was said.
    """
    found = file_readings(connection, patient_id)
    return found[0].reading if found else FileReading()


def add_file_reading(
    connection: Connection,
    now_ms: int,
    *,
    clinic_id: str,
    patient_id: str,
    author_id: str,
    reading: FileReading,
    based_on: int,
) -> int:
    """Keep a new version, and have all recordings analysed anew.

    Parameters
    ----------
    connection : Connection
        In a writing transaction.
    now_ms : int
        The time.
    clinic_id, patient_id, author_id : str
        Whose files and who says so.
    reading : FileReading
        How they are read from now on.
    based_on : int
        Version that was changed; 0 for a first one.

    Returns
    -------
    int
        Its version; the one that counts already, where it says the same.

    Raises
    ------
    ClinicError
        Somebody else changed it meanwhile.
    """
    newest = select(func.max(file_reading_versions.c.version)).where(file_reading_versions.c.patient_id == patient_id)
    before = connection.scalar(newest) or 0
    if based_on != before:
        raise ClinicError("this was changed by somebody else meanwhile", do="look at it and make your change again")
    if reading == newest_file_reading(connection, patient_id):
        return before
    text, version_id = json.dumps(asdict(reading), sort_keys=True), new_id()
    connection.execute(
        insert(file_reading_versions).values(
            id=version_id,
            patient_id=patient_id,
            version=before + 1,
            reading_json=text,
            author_id=author_id,
            created_at_ms=now_ms,
        )
    )
    audit.record(
        connection,
        now_ms,
        clinic_id=clinic_id,
        actor_id=author_id,
        action="write file reading",
        object_kind="file_reading_version",
        object_id=version_id,
        content_sha256=hashlib.sha256(text.encode()).hexdigest(),
    )
    asked = select(recordings.c.id).where(
        recordings.c.patient_id == patient_id, recordings.c.state.in_(("usable", "unusable"))
    )
    for recording_id in connection.scalars(asked).all():
        jobs.add(connection, now_ms, "analyse", patient_id, recording_id)
    return before + 1
