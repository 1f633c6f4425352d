"""The course that a session belongs to: up to its day, itself included, whether its result lies there or elsewhere."""

from dataclasses import replace
from datetime import date

import pytest

from imu_rom.course.of_session import course_of_session
from imu_rom.errors import CourseError
from imu_rom.exchange.result import read_result

DIARY = """date,exercise,done,pain_during,pain_next_morning
2026-12-03,heeldrop,yes,3,2
2026-12-05,heeldrop,yes,1,
2026-12-09,heeldrop,yes,9,9
"""


@pytest.fixture
def course(course_folder):
    folder, put = course_folder
    (folder / "diary.csv").write_text(DIARY)
    put("one", "2026-12-03T18:00:00+01:00")
    put("later", "2026-12-09T18:00:00+01:00")
    return folder, read_result(put("two", "2026-12-05T18:00:00+01:00"))


def test_it_ends_on_the_session_and_knows_nothing_of_what_came_later(course):
    folder, document = course
    answer = course_of_session(folder, document).answer
    assert answer.until == date(2026, 12, 5)
    assert (answer.days[-1].pain.during, answer.days[-1].pain.next_morning) == (1.0, None)
    (change,) = answer.since_review.changes
    assert (change.from_day, change.to_day) == (date(2026, 12, 3), date(2026, 12, 5))
    assert answer.repeated_recordings == 0


def test_a_result_beside_the_folder_is_the_same_as_one_in_it(course):
    folder, document = course
    inside = course_of_session(folder, document)
    for file in (folder / "results" / "two").iterdir():
        file.unlink()
    outside = course_of_session(folder, document)
    assert outside == inside
    assert {each.role for each in outside.inputs} == {"plan", "diary"}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"patient": "P-0002"}, "it is of 'P-0002', but the plan is for 'P-0017'"),
        ({"recorded_at": "2026-11-01T10:00:00+01:00"}, "can't take this result: it "),
        ({"recorded_at": None}, "it does not say when it was recorded"),
        ({"exercise": "squat"}, "squat (left) is in no plan of the course"),
    ],
)
def test_a_session_of_another_course_is_one_sentence(course, changes, said):
    folder, document = course
    if "recorded_at" in changes:
        document = replace(document, recording=replace(document.recording, **changes))
    elif "exercise" in changes:
        one = document.exercises[0]
        named = replace(one, exercise=replace(one.exercise, name=changes["exercise"]))
        document = replace(document, exercises=(named,))
    else:
        document = replace(document, **changes)
    with pytest.raises(CourseError) as error:
        course_of_session(folder, document)
    assert said in str(error.value)
    assert "\n" not in str(error.value)
