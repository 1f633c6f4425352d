"""What goes out: one result, or all that a course holds; every format of ``export`` is made from this."""

import dataclasses
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from imu_rom.dose.follow_up import DiaryEntry
from imu_rom.dose.weeks_answer import CourseAnswer
from imu_rom.errors import ResultError
from imu_rom.exchange.document import ResultDocument
from imu_rom.exchange.result import read_result
from imu_rom.exchange.result_layout import OPEN_ENDED
from imu_rom.recording.model import InputFile

__all__ = [
    "Exported",
    "ExportedCourse",
    "ExportedResult",
    "exported_result",
    "named_apart",
    "no_samples",
    "read_exported_result",
]

RESULT = "result.json"
ANGLE = "angle.csv"
LARGEST = 1e12
# of whole numbers: a FHIR integer has 32 bits, and nothing that a recording counts comes near
LARGEST_WHOLE = 2**31 - 1


@dataclass(frozen=True)
class ExportedResult:
    """One result that goes out.

    Parameters
    ----------
    session : str
        Name of the recording; no two results of one export have the same.
    document : ResultDocument
        What it says.
    angle_file : Path or None
        The ``angle.csv`` beside it; None where there is none.
    """

    session: str
    document: ResultDocument
    angle_file: Path | None


@dataclass(frozen=True)
class ExportedCourse:
    """What a course has besides its results.

    Parameters
    ----------
    patient : str or None
        Pseudonym.
    diary : tuple of DiaryEntry
        In order of time.
    answer : CourseAnswer
        Its weeks.
    inputs : tuple of InputFile
        What they were read from.
    """

    patient: str | None
    diary: tuple[DiaryEntry, ...]
    answer: CourseAnswer
    inputs: tuple[InputFile, ...] = ()


@dataclass(frozen=True)
class Exported:
    """What goes out.

    Parameters
    ----------
    results : tuple of ExportedResult
        In order of time.
    course : ExportedCourse or None
        None where it is one result by itself.
    left_out : tuple of str
        What of the folder does not go out, and why, a sentence each.
    without_samples : str
        Whose samples do not go out, for formats that hold samples; empty where all have them.
    """

    results: tuple[ExportedResult, ...]
    course: ExportedCourse | None = None
    left_out: tuple[str, ...] = ()
    without_samples: str = ""

    @property
    def patient(self) -> str | None:
        """Pseudonym of the person; None where nothing says it."""
        if self.course is not None and self.course.patient is not None:
            return self.course.patient
        return next((each.document.patient for each in self.results if each.document.patient is not None), None)


def named_apart(results: Iterable[ExportedResult]) -> tuple[ExportedResult, ...]:
    """Give recordings of the same name a number.

    Parameters
    ----------
    results : iterable of ExportedResult
        In order.

    Returns
    -------
    tuple of ExportedResult
        The second of a name ends in ``(2)``.
    """
    taken: set[str] = set()
    kept = []
    for each in results:
        session, number = each.session, 1
        while session in taken:
            number += 1
            session = f"{each.session} ({number})"
        taken.add(session)
        kept.append(replace(each, session=session))
    return tuple(kept)


def read_exported_result(path: Path) -> Exported:
    """Read one result with what lies beside it.

    Parameters
    ----------
    path : Path
        Folder as ``imu-rom analyse --out`` writes it, or the ``result.json`` in it.

    Returns
    -------
    Exported
        One result.

    Raises
    ------
    ResultError
        It can't be read, or is no such file.
    """
    file = path / RESULT if path.is_dir() else path
    if not file.is_file():
        raise ResultError("must be a result.json or a folder that holds one", where=str(path), do="name another")
    result = exported_result(file)
    return Exported((result,), without_samples="" if result.angle_file else no_samples(file))


def exported_result(file: Path) -> ExportedResult:
    """Read a ``result.json``, and see whether its samples lie beside it.

    Parameters
    ----------
    file : Path
        The ``result.json``.

    Returns
    -------
    ExportedResult
        Named by its recording.

    Raises
    ------
    ResultError
        It can't be read, is no such file, or has a number that no recording gives.
    """
    document = read_result(file)
    _check_numbers(document, str(file))
    angle = file.with_name(ANGLE)
    return ExportedResult(document.recording.label, document, angle if angle.is_file() else None)


def _check_numbers(value: object, where: str) -> None:
    """Refuse numbers that no recording gives, such as 1e999, which JSON allows and no analysis writes."""
    if isinstance(value, float | int):
        whole = isinstance(value, int)
        largest = LARGEST_WHOLE if whole else LARGEST
        if not abs(value) <= largest:
            shown = "a whole number beyond that" if whole else f"{value!r:.40}"
            what = f"must be at most {largest if whole else f'{largest:g}'}, got {shown}"
            raise ResultError(what, where=where, do="analyse the recording again")
    elif isinstance(value, Mapping):
        for key, each in value.items():
            _check_numbers(each, f"{where}.{key}")
    elif isinstance(value, tuple):
        for index, each in enumerate(value):
            _check_numbers(each, f"{where}[{index}]")
    elif dataclasses.is_dataclass(value) and not isinstance(value, type):
        for field in dataclasses.fields(value):
            _check_numbers(_bounded(field.name, getattr(value, field.name)), f"{where}.{field.name}")


def _bounded(name: str, value: object) -> object:
    """Leave out that a prescription has no upper bound."""
    if name in OPEN_ENDED and isinstance(value, tuple) and value[-1] == math.inf:
        return value[:-1]
    return None if name == "prescribed_high_s" and value == math.inf else value


def no_samples(place: Path | str, others: int = 0) -> str:
    """Say that results have no samples beside them.

    Parameters
    ----------
    place : Path or str
        The ``result.json`` of the first.
    others : int
        How many more there are.

    Returns
    -------
    str
        One sentence.
    """
    if others:
        return f"{place} and {others} more have no {ANGLE} beside them, so their samples do not go out."
    return f"{place} has no {ANGLE} beside it, so its samples do not go out."
