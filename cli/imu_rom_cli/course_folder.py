"""What several commands take from a course folder: its answer up to a last day, and who is told of analyses."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from imu_rom_cli.options import load_settings

if TYPE_CHECKING:
    from imu_rom.exchange.progress import ProgressDocument

__all__ = ["course_document"]


def course_document(
    folder: Path, settings_file: Path | None, until: date | None, *, analyse: bool
) -> "ProgressDocument":
    """Read a course folder and sum it up.

    Parameters
    ----------
    folder : Path
        The course.
    settings_file : Path or None
        Settings to take; None: the usual ones.
    until : date or None
        Last day; None: the last one with a recording or a line of the diary.
    analyse : bool
        False: results are taken as they are, and nothing is written.

    Returns
    -------
    ProgressDocument
        What the course answers.

    Raises
    ------
    CourseError
        The folder holds nothing to answer from.
    """
    from imu_rom.course.folder import read_course  # noqa: PLC0415  so that --help loads no numpy
    from imu_rom.dose.weeks import follow_up  # noqa: PLC0415
    from imu_rom.errors import CourseError  # noqa: PLC0415
    from imu_rom.exchange.progress import progress_document  # noqa: PLC0415

    settings, inputs = load_settings(settings_file)
    course = read_course(folder, settings, settings_files=inputs, analyse=analyse, told=_tell)
    last = course.last_day if until is None else until
    if last is None:
        raise CourseError(
            "holds neither a recording that can be used nor a line of a diary",
            where=str(folder),
            do="add one, or name the last day by --until",
        )
    answer = follow_up(course.plans.plans, course.recorded, course.diary.entries, last, settings)
    return progress_document(answer, course.reading, settings)


def _tell(done: int, total: int, name: str) -> None:
    click.echo(f"Analysing {done + 1} of {total}: {name}", err=True)
