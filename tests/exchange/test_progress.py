"""``progress.json``: its schema fits what is written, and says all that is."""

import json
from dataclasses import dataclass
from datetime import date

import jsonschema
import pytest

from imu_rom.dose.course_reading import CourseReading, Skipped
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.follow_up import DiaryEntry
from imu_rom.dose.plan import Plan, Stage
from imu_rom.dose.weeks import follow_up
from imu_rom.exchange.json_schema import schema_of
from imu_rom.exchange.progress import progress_document, progress_schema, write_progress
from imu_rom.settings import Settings

DROP = Exercise("heeldrop", "ankle", "dorsiflexion", "left", "shank", "foot", sets=3, repetitions=15, per_day=2)


@pytest.fixture
def document():
    plan = Plan("Heel", "achilles insertion", (Stage("early", (DROP,), date(2026, 12, 1)),), "early", patient="P-0009")
    diary = [DiaryEntry(date(2026, 12, 3), exercise="heeldrop", side="left", done="yes", red_flags=("fever",), line=2)]
    answer = follow_up([plan], [], diary, date(2026, 12, 9))
    reading = CourseReading(0, 1, 1, (), (), (Skipped("result", "results/x/result.json", "damaged-result", "is."),), ())
    return progress_document(answer, reading, Settings())


def test_what_is_written_fits_the_schema_and_is_the_same_each_time(document):
    jsonschema.Draft202012Validator.check_schema(progress_schema())
    written = write_progress(document, ("a caution",))
    layout = json.loads(written)
    jsonschema.Draft202012Validator(progress_schema()).validate(layout)
    assert written == write_progress(document, ("a caution",))
    assert (layout["plan"]["patient"], layout["stage"]) == ("P-0009", "early")
    assert layout["course"]["red_flags"] == [{"day": "2026-12-03", "words": ["fever"], "recent": True}]
    assert len(layout["course"]["days"]) == 9
    assert layout["reading"]["skipped"][0]["code"] == "damaged-result"
    assert layout["provenance"]["settings"]["pain"]["stop_above"] == 5


@pytest.mark.parametrize("change", [("course", "until", None), ("reading", "results", "one"), ("plan", "extra", 1)])
def test_the_schema_refuses_what_is_not_written_so(document, change):
    layout = json.loads(write_progress(document, ()))
    group, key, value = change
    layout[group][key] = value
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.Draft202012Validator(progress_schema()).validate(layout)


def test_a_field_without_a_schema_is_not_passed_over():
    @dataclass
    class Odd:
        value: complex

    with pytest.raises(TypeError, match="has no schema"):
        schema_of(Odd)
