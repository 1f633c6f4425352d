"""A course in one folder: plans, diary, recordings, results; what can't be used is named and the rest is read.

::

    plan.toml               the plan, or plans/*.toml, told apart by from in [plan]
    diary.csv               what the person noted; may be missing
    (anything else)         recordings, a BIDS dataset or files as loggers write them, in any folder below
    results/**/result.json  what was analysed, here or by hand
"""

from dataclasses import dataclass, fields, replace
from datetime import date
from pathlib import Path

from imu_rom.course.analysing import Told, analyse_new
from imu_rom.course.diary import Diary, read_diary
from imu_rom.course.placing import placed_results
from imu_rom.course.plans import CoursePlans, read_plans
from imu_rom.course.recordings import find_recordings
from imu_rom.course.store import Index, read_index, read_results, write_index
from imu_rom.dose.course_reading import CourseReading
from imu_rom.dose.follow_up import RecordedExercise
from imu_rom.errors import CourseError, OutputError
from imu_rom.recording.model import InputFile
from imu_rom.settings import Settings

__all__ = ["Course", "read_course"]

DIARY = "diary.csv"


@dataclass(frozen=True)
class Course:
    """What a course folder holds.

    Parameters
    ----------
    plans : CoursePlans
        Versions of the plan.
    diary : Diary
        What the person noted.
    recorded : tuple of RecordedExercise
        What sensors recorded, in order of time.
    reading : CourseReading
        How much there was to read, and what was not used.
    """

    plans: CoursePlans
    diary: Diary
    recorded: tuple[RecordedExercise, ...]
    reading: CourseReading

    @property
    def last_day(self) -> date | None:
        """Last day with a recording or a line of the diary; None where there is neither."""
        days = [each.day for each in self.recorded] + [each.day for each in self.diary.entries]
        return max(days, default=None)


def read_course(
    folder: Path,
    settings: Settings | None = None,
    *,
    settings_files: tuple[InputFile, ...] = (),
    analyse: bool = True,
    told: Told | None = None,
) -> Course:
    """Read a course folder, and analyse what is new in it.

    Parameters
    ----------
    folder : Path
        The folder.
    settings : Settings, optional
        All tunables; None takes the defaults.
    settings_files : tuple of InputFile
        The settings file, where there is one.
    analyse : bool
        False: results are taken as they are, and nothing is written.
    told : callable, optional
        Called before each analysis with how many are done, how many there are, and the name of the next one.

    Returns
    -------
    Course
        The same whatever the order of files; reading it again changes nothing.

    Raises
    ------
    CourseError, PlanError
        The folder holds no plan, or its plans or the diary's heading can't be used.
    OutputError
        A result can't be written.
    """
    settings = settings or Settings()
    if not folder.is_dir():
        what = "must be a folder with a plan, got a file" if folder.exists() else "there is no such folder"
        raise CourseError(what, where=str(folder), do="name the folder of one person's course")
    plans = read_plans(folder, largest_mb=settings.reading.largest_plan_mb)
    diary = read_diary(folder / DIARY, plans) if (folder / DIARY).exists() else Diary()
    index = read_index(folder)
    before = replace(index, **{each.name: dict(getattr(index, each.name)) for each in fields(index)})
    results, damaged = read_results(folder, index)
    recordings = find_recordings(folder)
    try:
        new = analyse_new(
            folder, recordings, plans, index, settings, settings_files=settings_files, analyse=analyse, told=told
        )
    finally:
        # what was analysed before an interruption is kept
        if analyse:
            results, damaged = read_results(folder, index)
            if index != before:
                _remember(folder, index)
    recorded, misplaced = placed_results(results, plans)
    skipped = sorted({*damaged, *new.skipped, *misplaced, *diary.skipped})
    files = [*(each.file for each in plans.versions), *([diary.file] if diary.file else [])]
    files += [InputFile(place, each.file.sha256, "result") for place, each in results.items()]
    reading = CourseReading(
        recordings=len(recordings),
        results=len(results) + len(damaged),
        diary_lines=diary.lines,
        analysed=new.analysed,
        waiting=new.waiting,
        skipped=tuple(skipped),
        inputs=tuple(files),
    )
    return Course(plans, diary, recorded, reading)


def _remember(folder: Path, index: Index) -> None:
    try:
        write_index(folder, index)
    except OutputError:
        return  # a folder that can't be written is read all the same, only more slowly
