"""A patient's plans, diary and results as the folder of a course, so that the library reads them unchanged.

::

    plans/0001.toml           each version of the plan that a day goes by, under its number
    diary.csv                 the newest version of each line
    results/<id>/result.json  the newest result of each recording
"""

import csv
import io
import json
import os
import shutil
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, select

from imu_rom.clinic.folder_files import FolderFiles
from imu_rom.clinic.results import KeptResult, newest_results
from imu_rom.clinic.schema import diary_versions, plan_versions
from imu_rom.clinic.stored_files import StoredFile, StoredFiles
from imu_rom.course.diary_columns import COLUMNS

__all__ = [
    "PatientRecords",
    "PlanText",
    "copy_file",
    "diary_text",
    "patient_records",
    "plans_in_effect",
    "write_course",
    "write_plans",
]

_DAY = "date"


@dataclass(frozen=True)
class PlanText:
    """One version of a plan as a file.

    Parameters
    ----------
    plan_version_id : str
        Its id.
    version : int
        From 1.
    toml : str
        Its text.
    sha256 : str
        Of the text.
    applies_from : str
        First day.
    """

    plan_version_id: str
    version: int
    toml: str
    sha256: str
    applies_from: str

    @property
    def file_name(self) -> str:
        """Its place in the folder."""
        return f"plans/{self.version:04d}.toml"


@dataclass(frozen=True)
class PatientRecords:
    """What a course is made from, as it is in one transaction.

    Parameters
    ----------
    plans : tuple of PlanText
        That a day goes by, in order of days.
    diary : tuple of dict of str to str
        Cells by column, in the order in which the lines were begun.
    results : dict of str to KeptResult
        The newest by recording.
    """

    plans: tuple[PlanText, ...]
    diary: tuple[dict[str, str], ...]
    results: dict[str, KeptResult]

    def made_from(self) -> list[object]:
        """Give what stands for all of it in a fingerprint.

        Returns
        -------
        list
            Plain values, the same for the same content.
        """
        return [
            [each.sha256 for each in self.plans],
            list(self.diary),
            sorted(each.files["result.json"].sha256 for each in self.results.values()),
        ]


def patient_records(connection: Connection, patient_id: str) -> PatientRecords:
    """Read what a course is made from.

    Parameters
    ----------
    connection : Connection
        Any.
    patient_id : str
        Whose.

    Returns
    -------
    PatientRecords
        Of one state of the database.
    """
    return PatientRecords(
        plans_in_effect(connection, patient_id), _diary(connection, patient_id), newest_results(connection, patient_id)
    )


def plans_in_effect(connection: Connection, patient_id: str) -> tuple[PlanText, ...]:
    """Give the versions of a plan that a day goes by.

    Parameters
    ----------
    connection : Connection
        Any.
    patient_id : str
        Whose.

    Returns
    -------
    tuple of PlanText
        In order of days; from its first day on, a version takes the place of all that were written before it.
    """
    asked = select(plan_versions).where(plan_versions.c.patient_id == patient_id)
    kept: list[PlanText] = []
    for row in connection.execute(asked.order_by(plan_versions.c.version.desc())):
        if not kept or row.applies_from < kept[-1].applies_from:
            kept.append(PlanText(row.id, row.version, row.toml, row.sha256, row.applies_from))
    return tuple(reversed(kept))


def _diary(connection: Connection, patient_id: str) -> tuple[dict[str, str], ...]:
    rows = connection.execute(
        select(diary_versions)
        .where(diary_versions.c.patient_id == patient_id)
        .order_by(diary_versions.c.created_at_ms, diary_versions.c.entry, diary_versions.c.version)
    )
    newest: dict[str, tuple[int, dict[str, str]]] = {}
    for row in rows:
        fields: Mapping[str, object] = json.loads(row.fields_json)
        cells = {
            name: " ".join(str(cell).split()) for name, cell in fields.items() if name in COLUMNS and cell is not None
        }
        if row.entry not in newest or newest[row.entry][0] < row.version:
            # a line keeps the place at which it was begun
            newest[row.entry] = (row.version, {_DAY: row.day, **cells})
    return tuple(cells for _, cells in newest.values() if len(cells) > 1)


def write_plans(plans: Iterable[PlanText], folder: Path) -> None:
    """Write plans as files.

    Parameters
    ----------
    plans : iterable of PlanText
        The versions.
    folder : Path
        Of the course.
    """
    (folder / "plans").mkdir(parents=True, exist_ok=True)
    for each in plans:
        (folder / each.file_name).write_bytes(each.toml.encode())


def write_course(records: PatientRecords, files: StoredFiles, folder: Path) -> dict[str, str]:
    """Write the folder of a course.

    Parameters
    ----------
    records : PatientRecords
        What is in it.
    files : StoredFiles
        Where results are kept.
    folder : Path
        Made here.

    Returns
    -------
    dict of str to str
        Places of results within the folder, by recording.
    """
    write_plans(records.plans, folder)
    if records.diary:
        (folder / "diary.csv").write_bytes(diary_text(records.diary))
    places = {}
    for recording_id, result in records.results.items():
        places[recording_id] = place = f"results/{recording_id}/result.json"
        (folder / place).parent.mkdir(parents=True)
        copy_file(files, result.files["result.json"], folder / place)
    return places


def diary_text(lines: Iterable[Mapping[str, str]]) -> bytes:
    """Write lines as the diary of a course.

    Parameters
    ----------
    lines : iterable of mapping of str to str
        Cells by column.

    Returns
    -------
    bytes
        CSV with all columns.
    """
    text = io.StringIO()
    writer = csv.DictWriter(text, list(COLUMNS), restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(lines)
    return text.getvalue().encode()


def copy_file(files: StoredFiles, stored: StoredFile, path: Path) -> None:
    """Put a stored file where another program finds it; it must not be changed there.

    Parameters
    ----------
    files : StoredFiles
        Where it is kept.
    stored : StoredFile
        Which.
    path : Path
        Where to.

    Raises
    ------
    ClinicError
        It is missing, or can't be opened with this key.
    """
    with files.open(stored.sha256) as source, path.open("xb") as target:
        shutil.copyfileobj(source, target, 1 << 20)
        if isinstance(files, FolderFiles) and files.key is None:
            # the same time each time, so that an index of the folder stays true
            kept = os.fstat(source.fileno())
            os.utime(path, ns=(kept.st_atime_ns, kept.st_mtime_ns))
