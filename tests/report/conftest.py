"""The sample course as its page shows it."""

from functools import cache
from pathlib import Path

import pytest

from imu_rom.course.folder import read_course
from imu_rom.dose.weeks import follow_up
from imu_rom.exchange.progress import progress_document
from imu_rom.settings import Settings

SAMPLE = Path(__file__).parents[2] / "sample_recordings" / "course"


@cache
def document_of(folder, until=None):
    """What a course folder answers; nothing is analysed or written."""
    settings = Settings()
    course = read_course(folder, settings, analyse=False)
    answer = follow_up(course.plans.plans, course.recorded, course.diary.entries, until or course.last_day, settings)
    return progress_document(answer, course.reading, settings)


@pytest.fixture(scope="session")
def course_document():
    return document_of(SAMPLE)


@pytest.fixture(scope="session")
def course_until():
    """The sample course up to some day."""
    return lambda day: document_of(SAMPLE, day)
