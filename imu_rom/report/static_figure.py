"""A figure for a paper, from a result or a course to the bytes of its file."""

from typing import Literal

from imu_rom.errors import CannotAnswerError
from imu_rom.exchange.document import ExerciseAnswer, ResultDocument
from imu_rom.report.course_figure import CourseFigure
from imu_rom.report.static_canvas import FigureFormat, figure_bytes, journal_style, need_matplotlib
from imu_rom.session.result import AngleTrace

__all__ = ["angle_figure_bytes", "chosen_exercise", "session_figure_bytes", "trend_figure_bytes"]


def chosen_exercise(document: ResultDocument, name: str | None) -> int:
    """Find the exercise that a figure is about.

    Parameters
    ----------
    document : ResultDocument
        A session's result.
    name : str or None
        Its name; None where there is only one.

    Returns
    -------
    int
        Its place in the result.

    Raises
    ------
    CannotAnswerError
        There are several and none is named, or none of that name.
    """
    names = [each.exercise.name for each in document.exercises]
    if name is None and len(names) == 1:
        return 0
    if name in names:
        return names.index(name)
    what = "holds several exercises" if name is None else f"holds no exercise {name!r}"
    raise CannotAnswerError(what, where=document.recording.label, do=f"name one by --exercise: {', '.join(names)}")


def angle_figure_bytes(answer: ExerciseAnswer, trace: AngleTrace, file: FigureFormat) -> bytes:
    """Draw the angle of an exercise over time.

    Parameters
    ----------
    answer : ExerciseAnswer
        The exercise's answer.
    trace : AngleTrace
        Its angle over time.
    file : {"svg", "png", "pdf"}
        Format.

    Returns
    -------
    bytes
        The same figure gives the same bytes.

    Raises
    ------
    MissingExtraError
        matplotlib is not installed.
    """
    need_matplotlib()
    from imu_rom.report.static_session import angle_drawing  # noqa: PLC0415  an extra

    with journal_style():
        return figure_bytes(angle_drawing(answer, trace), file)


def session_figure_bytes(kind: Literal["repetitions", "exposure"], answer: ExerciseAnswer, file: FigureFormat) -> bytes:
    """Draw the repetitions of an exercise, or its time past every angle.

    Parameters
    ----------
    kind : {"repetitions", "exposure"}
        Which of the two.
    answer : ExerciseAnswer
        The exercise's answer.
    file : {"svg", "png", "pdf"}
        Format.

    Returns
    -------
    bytes
        The same figure gives the same bytes.

    Raises
    ------
    MissingExtraError
        matplotlib is not installed.
    CannotAnswerError
        One sensor alone knows no angle that time could be counted past.
    """
    need_matplotlib()
    from imu_rom.report.static_exposure import exposure_drawing  # noqa: PLC0415  an extra
    from imu_rom.report.static_session import repetition_drawing  # noqa: PLC0415

    with journal_style():
        draw = repetition_drawing if kind == "repetitions" else exposure_drawing
        return figure_bytes(draw(answer), file)


def trend_figure_bytes(shown: CourseFigure, file: FigureFormat) -> bytes:
    """Draw a course of weeks.

    Parameters
    ----------
    shown : CourseFigure
        What the figure shows.
    file : {"svg", "png", "pdf"}
        Format.

    Returns
    -------
    bytes
        The same figure gives the same bytes.

    Raises
    ------
    MissingExtraError
        matplotlib is not installed.
    """
    need_matplotlib()
    from imu_rom.report.static_trend import trend_drawing  # noqa: PLC0415  an extra

    with journal_style():
        return figure_bytes(trend_drawing(shown), file)
