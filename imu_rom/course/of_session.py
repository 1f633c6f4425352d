"""The course that a session belongs to, as far as it had come when the session was done."""

from dataclasses import dataclass
from pathlib import Path

from imu_rom.course.folder import Course, read_course
from imu_rom.course.placing import placed_results
from imu_rom.course.recorded import result_summary
from imu_rom.course.store import StoredFile, StoredResult
from imu_rom.dose.weeks import follow_up
from imu_rom.dose.weeks_answer import CourseAnswer
from imu_rom.errors import CourseError
from imu_rom.exchange.document import ResultDocument
from imu_rom.exchange.plain_values import rounded
from imu_rom.recording.model import InputFile
from imu_rom.settings import Settings

__all__ = ["CourseOfSession", "course_of_session", "place_in_course"]

HERE = "this result"


@dataclass(frozen=True)
class CourseOfSession:
    """The course of one session.

    Parameters
    ----------
    answer : CourseAnswer
        Up to the session's day, with this session as its last recording; what came later is not in it, but for the
        morning after.
    inputs : tuple of InputFile
        Plans and diary that were read.
    """

    answer: CourseAnswer
    inputs: tuple[InputFile, ...]


def course_of_session(folder: Path, document: ResultDocument, settings: Settings | None = None) -> CourseOfSession:
    """Find a session's place in a course.

    Parameters
    ----------
    folder : Path
        The course. The session's result may lie in it or elsewhere.
    document : ResultDocument
        The session's result.
    settings : Settings, optional
        Of the weeks; None takes the defaults.

    Returns
    -------
    CourseOfSession
        Nothing is analysed and nothing written.

    Raises
    ------
    CourseError
        The folder is no course, or the session is of another person, or of a day or an exercise that no plan has.
    """
    settings = settings or Settings()
    return place_in_course(read_course(folder, settings, analyse=False), document, settings, where=str(folder))


def place_in_course(course: Course, document: ResultDocument, settings: Settings, *, where: str) -> CourseOfSession:
    """Find a session's place in a course that was read already.

    Parameters
    ----------
    course : Course
        The course.
    document : ResultDocument
        The session's result.
    settings : Settings
        Of the weeks.
    where : str
        The course's name in an error.

    Returns
    -------
    CourseOfSession
        As `course_of_session` gives it.

    Raises
    ------
    CourseError
        The session is of another person, or of a day or an exercise that no plan has.
    """
    stored = StoredResult(StoredFile(0, 0, ""), result_summary(document))
    placed, misplaced = placed_results({HERE: stored}, course.plans)
    if not placed:
        why = misplaced[0].why if misplaced else "it holds no exercise."
        it = "it " if misplaced and misplaced[0].kind == "result" else ""
        what, _, advice = f"can't take {HERE}: {it}{why}".removesuffix(".").partition("; ")
        raise CourseError(what, where=where, do=advice or "name the course that it belongs to")
    session = placed[0]
    # the same recording began at the same moment, so this leaves its result in the folder out
    before = [each for each in course.recorded if each.started_at < session.started_at]
    answer = follow_up(course.plans.plans, [*before, *placed], course.diary.entries, session.day, settings)
    inputs = tuple(each for each in course.reading.inputs if each.role != "result")
    return CourseOfSession(rounded(answer), inputs)
