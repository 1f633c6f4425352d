"""What goes out of a folder: a result, or a course with its results, diary and weeks."""

from datetime import datetime
from pathlib import Path

from imu_rom.course.folder import Course, read_course
from imu_rom.dose.weeks import follow_up
from imu_rom.errors import CourseError
from imu_rom.exchange.exported import (
    RESULT,
    Exported,
    ExportedCourse,
    ExportedResult,
    exported_result,
    named_apart,
    no_samples,
    read_exported_result,
)
from imu_rom.settings import Settings

__all__ = ["read_exported"]

PLAN, PLANS = "plan.toml", "plans"


def read_exported(path: Path, settings: Settings | None = None) -> Exported:
    """Read what a path means: one result, or a whole course.

    Parameters
    ----------
    path : Path
        A ``result.json``, a folder that holds one, or the folder of a course with a plan.
    settings : Settings, optional
        Of the weeks of a course; None takes the defaults.

    Returns
    -------
    Exported
        Of a course, the results that its weeks rest on; nothing is analysed and nothing written.

    Raises
    ------
    CourseError
        It is neither, or the course's plan or diary can't be used.
    ResultError
        A result can't be read.
    """
    if path.is_file() or (path / RESULT).is_file():
        return read_exported_result(path)
    if not path.is_dir():
        raise CourseError("there is no such file or folder", where=str(path), do="name a result or a course")
    if not any((path / each).exists() for each in (PLAN, PLANS)):
        raise CourseError(
            f"holds neither {RESULT} nor {PLAN}", where=str(path), do="name the folder of a result or of a course"
        )
    settings = settings or Settings()
    return _of_course(path, read_course(path, settings, analyse=False), settings)


def _of_course(folder: Path, course: Course, settings: Settings) -> Exported:
    last = course.last_day
    if last is None:
        raise CourseError(
            "holds neither a recording that can be used nor a line of a diary", where=str(folder), do="add one"
        )
    answer = follow_up(course.plans.plans, course.recorded, course.diary.entries, last, settings)
    places = dict.fromkeys(each.source for each in course.recorded)
    results = [exported_result(folder / place) for place in places]
    left_out = [f"{each.where}: {each.why}" for each in course.reading.skipped]
    left_out += [f"{each}: is not analysed yet; run imu-rom progress first." for each in course.reading.waiting]
    without = [place for place, each in zip(places, results, strict=True) if each.angle_file is None]
    patient = course.plans.latest.patient or course.plans.latest.subject
    return Exported(
        named_apart(sorted(results, key=_begun)),
        ExportedCourse(patient, course.diary.entries, answer, course.reading.inputs),
        tuple(left_out),
        # of a long course that was analysed without its samples, one sentence says enough
        no_samples(without[0], len(without) - 1) if without else "",
    )


def _begun(result: ExportedResult) -> tuple[float, str]:
    at = result.document.recording.recorded_at
    return (0.0 if at is None else datetime.fromisoformat(at).timestamp(), result.session)
