"""The methods text of what goes out: of one result, or one sentence that says why not."""

from dataclasses import replace

import pytest

from imu_rom.errors import CourseError, ResultError
from imu_rom.exchange.document import result_document
from imu_rom.exchange.exported import Exported, ExportedResult
from imu_rom.report.methods import write_methods


def exported(*documents):
    return Exported(tuple(ExportedResult("a recording", each, None) for each in documents))


def test_the_same_result_gives_the_same_bytes(made_session):
    document = result_document(made_session)
    assert write_methods(exported(document)) == write_methods(exported(document))


@pytest.mark.parametrize("count", [0, 2])
def test_it_tells_of_one_result(made_session, count):
    with pytest.raises(CourseError, match="a methods text tells of one result"):
        write_methods(exported(*[result_document(made_session)] * count))


def test_a_number_that_no_recording_gives_is_one_sentence(made_session):
    document = result_document(made_session)
    (answer,) = document.exercises
    decide = replace(answer.exercise.decide, share_of_repetitions=float("inf"))
    answer = replace(answer, exercise=replace(answer.exercise, decide=decide))
    with pytest.raises(ResultError, match="a number that no recording gives"):
        write_methods(exported(replace(document, exercises=(answer,))))
