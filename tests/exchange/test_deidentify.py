"""De-identified exports: dates moved by whole weeks, all text that a person may have written gone, numbers alike."""

import dataclasses
import json
import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Literal, get_args, get_origin, get_type_hints

import pytest
from hypothesis import given
from hypothesis import strategies as st

from imu_rom.errors import SettingError
from imu_rom.exchange.bids_derivative import write_bids_derivative
from imu_rom.exchange.deidentify import date_shift_days, deidentified, read_secret, what_remains
from imu_rom.exchange.fhir import write_fhir
from imu_rom.exchange.tidy_files import write_text_tables
from imu_rom.exchange.tidy_tables import tidy_tables

NAME = "Anna Example 4711"
# what a plan or a recording can't hold as free text: names of exercises and BIDS labels are letters and digits, a
# pseudonym is kept, and the rest are words of this program
WORDS = {
    "patient", "bids_subject", "subject", "task", "name:Exercise", "exercise", "left_exercise", "right_exercise",
    "candidates", "code", "touched_by", "action", "joint", "motion", "still_segment", "calibration_movement", "zero",
    "meaning", "method", "sign_source", "use", "evidence", "said_by", "recorded_at_source", "program_version", "words",
    "red_flags", "heel_lift", "versions", "settings", "numbers", "parts", "tendon_site", "recorded_at", "at",
    "source:ZeroPose", "why_not:StillStretch", "name:Term", "source:Term", "source:DetectableChange",
    "mounting:SensorSummary",
}  # fmt: skip


def has_text(hint):
    if get_origin(hint) is Literal:
        return False
    return hint is str or any(has_text(each) for each in get_args(hint))


def named(value, kept=()):
    """The same with a person's name in every field that may hold a text of the user's."""
    if isinstance(value, tuple):
        return tuple(named(each, kept) for each in value)
    if not dataclasses.is_dataclass(value):
        return value
    hints = get_type_hints(type(value))
    parts = {}
    for each in dataclasses.fields(value):
        held = getattr(value, each.name)
        if not has_text(hints[each.name]) or {each.name, f"{each.name}:{type(value).__name__}"} & WORDS:
            parts[each.name] = named(held)
        elif isinstance(held, tuple):
            parts[each.name] = (NAME,)
        elif isinstance(held, Mapping):
            parts[each.name] = {NAME: next(iter(held.values()), None)} if held else held
        elif isinstance(held, float):
            parts[each.name] = held
        else:
            parts[each.name] = NAME
    return replace(value, **parts)


def texts_of(value):
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for pair in value.items():
            yield from texts_of(pair)
    elif isinstance(value, tuple):
        for each in value:
            yield from texts_of(each)
    elif dataclasses.is_dataclass(value):
        for each in dataclasses.fields(value):
            yield from texts_of(getattr(value, each.name))


@pytest.fixture(params=["exported", "two_exercises", "exported_course"])
def whole(request):
    return request.getfixturevalue(request.param)


def signed(exported):
    results = tuple(replace(each, session=NAME, document=named(each.document)) for each in exported.results)
    course = exported.course and replace(
        exported.course, diary=named(exported.course.diary), answer=named(exported.course.answer)
    )
    return replace(exported, results=results, course=course)


def test_no_text_of_the_users_is_left_anywhere(whole):
    full = signed(whole)
    for part in (*(each.document for each in full.results), full.course and full.course.answer):
        assert part is None or sum(NAME in each for each in texts_of(part)) > 5
    out = deidentified(full)
    left = [each.document for each in out.results] + [each.session for each in out.results]
    left += [] if out.course is None else [out.course.diary, out.course.answer]
    assert not [text for text in texts_of(tuple(left)) if "Anna" in text or "4711" in text]


def test_no_file_that_goes_out_holds_one(exported, tmp_path):
    out = deidentified(signed(exported))
    write_text_tables(out, tmp_path / "tables")
    write_bids_derivative(out, tmp_path / "bids")
    for path in tmp_path.rglob("*"):
        assert "Anna" not in path.name
        assert not path.is_file() or b"Anna" not in path.read_bytes(), path


def test_a_bundle_loses_no_observation_and_names_no_file(whole):
    before, after = (json.loads(write_fhir(each)) for each in (whole, deidentified(whole)))
    kinds = [[each["resource"]["resourceType"] for each in bundle["entry"]] for bundle in (before, after)]
    assert kinds[0] == kinds[1]
    urls = [each["fullUrl"] for each in after["entry"]]
    assert len(set(urls)) == len(urls)
    assert not [each for each in texts_of(as_tuples(after)) if "sha-256" in each or "202" in each[:3]]


def as_tuples(value):
    if isinstance(value, list):
        return tuple(as_tuples(each) for each in value)
    return {key: as_tuples(each) for key, each in value.items()} if isinstance(value, dict) else value


def test_all_numbers_stay(whole):
    for before, after in zip(tidy_tables(whole), tidy_tables(deidentified(whole)), strict=True):
        numbers = [each.name for each in before.layout.columns if each.kind != "text"]
        assert numbers
        for one, other in zip(before.rows, after.rows, strict=True):
            assert [one[name] for name in numbers] == [other[name] for name in numbers]


def test_dates_move_alike_and_keep_their_weekday(whole):
    out = deidentified(whole)
    days = date_shift_days(whole.patient)

    def moments(each):
        return [datetime.fromisoformat(one.document.recording.recorded_at) for one in each.results]

    assert {after - before for before, after in zip(moments(whole), moments(out), strict=True)} == {
        timedelta(days=days)
    }
    assert all(each.year < 1925 for each in moments(out))
    assert [each.utcoffset() for each in moments(out)] == [each.utcoffset() for each in moments(whole)]
    if whole.course is not None:
        for before, after in zip(whole.course.diary, out.course.diary, strict=True):
            assert (after.day - before.day, after.at) == (timedelta(days=days), before.at)
            assert after.day.weekday() == before.day.weekday()
        assert (out.course.answer.until - whole.course.answer.until).days == days


@given(st.text(max_size=30), st.text(max_size=30), st.binary(max_size=10))
def test_a_shift_is_whole_weeks_and_a_persons_own(person, other, secret):
    days = date_shift_days(person, secret)
    assert days == date_shift_days(person, secret)
    assert days % 7 == 0
    assert date(2097, 12, 31) + timedelta(days=days) < date(1926, 1, 1)
    assert date(2000, 1, 1) + timedelta(days=days) > date(1800, 1, 1)


def test_people_and_secrets_have_shifts_of_their_own():
    people = [date_shift_days(f"P-{number:04d}") for number in range(2000)]
    # 1040 weeks to choose from: 2000 people take 1040 * (1 - exp(-2000 / 1040)) = 888 of them
    assert 840 < len(set(people)) < 930
    assert len({date_shift_days("P-0001", bytes([key])) for key in range(20)}) > 15


def test_a_session_and_a_stage_have_the_same_name_in_each_export(exported_course):
    whole = deidentified(exported_course)
    alone = deidentified(replace(exported_course, results=exported_course.results[3:5]))
    assert [each.session for each in alone.results] == [each.session for each in whole.results[3:5]]
    assert [each.document.stage for each in alone.results] == [each.document.stage for each in whole.results[3:5]]
    assert len({each.session for each in whole.results}) == len(whole.results)
    stages = {each.document.stage for each in whole.results}
    assert len(stages) == len({each.document.stage for each in exported_course.results})
    assert stages <= {name for week in whole.course.answer.weeks for name in week.stages}
    other = deidentified(exported_course, b"secret")
    assert not {each.session for each in other.results} & {each.session for each in whole.results}


def test_a_sensor_named_by_its_serial_number_gets_a_number(exported):
    (result,) = exported.results
    (answer,) = result.document.exercises
    recording = result.document.recording
    sensors = (replace(recording.sensors[0], tracked_point="SN 00B41A"), recording.sensors[1])
    document = replace(
        result.document,
        recording=replace(recording, sensors=sensors),
        exercises=(replace(answer, exercise=replace(answer.exercise, proximal="SN 00B41A")),),
    )
    out = deidentified(replace(exported, results=(replace(result, document=document),))).results[0].document
    assert out.exercises[0].exercise.proximal == out.recording.sensors[0].tracked_point == "sensor 1"
    assert out.exercises[0].exercise.distal == out.recording.sensors[1].tracked_point == "foot"


def test_what_remains_is_said(exported, exported_course):
    text = " ".join(what_remains(deidentified(exported)))
    for word in ("'P-0017'", "'P0017'", "eekdays", "heeldrop", "angle over time", "--secret FILE"):
        assert word in text
    assert "--secret" not in " ".join(what_remains(exported, b"x"))
    assert "red flags of the diary" in " ".join(what_remains(exported_course))
    assert all(re.fullmatch(r"[A-Z].*\.", each) for each in what_remains(exported_course))


def test_a_secret_is_read_from_a_file(tmp_path):
    (tmp_path / "secret").write_bytes(b"some words\n")
    assert read_secret(tmp_path / "secret") == b"some words"
    (tmp_path / "empty").write_bytes(b"\n")
    (tmp_path / "large").write_bytes(b"x" * 5000)
    faults = {"empty": "is empty", "large": "more than 4096", "none": "no such file", ".": "directory"}
    for name, said in faults.items():
        with pytest.raises(SettingError, match=said):
            read_secret(tmp_path / name)
