"""What goes out of a session made by hand, with its samples beside it, and of a course with a diary."""

from dataclasses import replace
from datetime import date, time
from pathlib import Path

import pytest

from imu_rom.course.exporting import read_exported
from imu_rom.dose.follow_up import DiaryEntry
from imu_rom.exchange.document import result_document
from imu_rom.exchange.exported import Exported, ExportedResult
from imu_rom.exchange.tables import angles_table

SAMPLE = Path(__file__).parents[2] / "sample_recordings"
HOSTILE = (
    "<script>alert(1)</script>",
    "\u202eexe.txt\u200f",
    "x" * 200,
    "🦶🏽 heel",
    '=HYPERLINK("http://x","y")',
    "+1",
    "-1",
    "@sum",
    "'quoted",
    'a,"b";c\td',
    "two\nlines",
    "back\rto the start",
)


def exported_of(session, folder, name="angle.csv"):
    """A result with its angle.csv in ``folder``."""
    document = result_document(session)
    traces = [each.trace for each in session.exercises]
    (folder / name).write_bytes(b"".join(angles_table(document.exercises, traces)))
    samples = len(traces[0].time_s)
    document = replace(document, recording=replace(document.recording, samples=samples))
    return Exported((ExportedResult(document.recording.label, document, folder / name),))


@pytest.fixture(scope="session")
def exported(make_session, strike, tmp_path_factory):
    session = make_session(depths=((10.0,) * 4, (-12.0, 3.0, 30.0)), marks=(strike,))
    return exported_of(session, tmp_path_factory.mktemp("one"))


@pytest.fixture(scope="session")
def two_exercises(made_session, tmp_path_factory):
    """A recording of two exercises, the second set the second one's."""
    (answer,) = made_session.exercises
    first, second, _ = answer.comparison.sets
    other = replace(answer.exercise, name="kneebend", joint="knee", motion="flexion", side="right")
    parts = tuple(
        replace(answer, exercise=exercise, comparison=replace(answer.comparison, sets=(done,)))
        for exercise, done in ((answer.exercise, first), (other, second))
    )
    return exported_of(replace(made_session, exercises=parts), tmp_path_factory.mktemp("two"))


@pytest.fixture(scope="session")
def exported_course():
    """The sample course, its diary with a line of everything."""
    whole = read_exported(SAMPLE / "course")
    line = DiaryEntry(
        date(2026, 12, 3), time(7, 5), "floorraise", "left", "part", 1.0, 2.5, 3.0, 4.0, 12.0, 1.0,
        painkiller=True, other_load="long walk", heel_lift="in", note="slept badly", line=400,
        red_flags=("fever", "pop"),
    )  # fmt: skip
    return replace(whole, course=replace(whole.course, diary=(*whole.course.diary, line)))
