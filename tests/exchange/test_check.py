"""``check.json``: valid against its schema, the same bytes each time, and what a plan reads of it."""

import json

import jsonschema
import pytest

from imu_rom.dose.check_file import CheckedParts, read_checked_parts
from imu_rom.exchange.check import check_schema, rounded_check, write_check
from imu_rom.exchange.result import result_schema

CAUTIONS = ("Supports, does not replace.",)


def checked(layout):
    jsonschema.Draft202012Validator.check_schema(check_schema())
    jsonschema.Draft202012Validator(check_schema(), format_checker=jsonschema.FormatChecker()).validate(layout)


@pytest.fixture(params=["made_sensor_check", "made_taping_check"])
def check(request):
    return rounded_check(request.getfixturevalue(request.param))


def test_it_is_valid_and_a_changed_key_is_not(check):
    layout = json.loads(write_check(check, CAUTIONS))
    checked(layout)
    answer = layout["answer"]
    for broken in (
        {**layout, "extra": 1},
        {**layout, "check": "sensor" if layout["check"] == "taping" else "taping"},
        {**layout, "cautions": []},
        {**layout, "answer": {**answer, "extra": 1}},
        {**layout, "answer": {key: answer[key] for key in list(answer)[1:]}},
    ):
        with pytest.raises(jsonschema.ValidationError):
            checked(broken)


def test_every_number_has_few_decimals_and_the_bytes_are_the_same(check):
    text = write_check(check, CAUTIONS)
    assert text == write_check(rounded_check(check), CAUTIONS)

    def numbers(value):
        if isinstance(value, dict):
            value = list(value.values())
        if isinstance(value, list):
            return [number for each in value for number in numbers(each)]
        return [value] if isinstance(value, float) else []

    found = numbers(json.loads(text)["answer"])
    assert len(found) > 15
    assert all(round(each, 4) == each for each in found)


def test_a_plan_reads_its_parts(check, tmp_path):
    path = tmp_path / "check.json"
    path.write_bytes(write_check(check, CAUTIONS))
    parts = read_checked_parts(path)
    assert isinstance(parts, CheckedParts)
    assert parts.parts == check.plan_parts
    assert parts.source in {"the sensor check check.json", "the taping check check.json"}


def test_good_sensors_give_a_plan_nothing(made_sensor_check, tmp_path):
    from dataclasses import replace

    path = tmp_path / "check.json"
    path.write_bytes(write_check(replace(made_sensor_check, plan_parts={}), CAUTIONS))
    assert "nothing to take from it" in read_checked_parts(path)


def test_what_both_files_have_is_the_same():
    check, result = check_schema(), result_schema()
    assert check["$defs"]["finding"] == result["$defs"]["finding"]
    for key in ("inputs", "versions", "settings"):
        of_result = result["$defs"]["provenance"]["properties"][key]
        assert check["properties"]["provenance"]["properties"][key] == of_result
    of_check = dict(check["$defs"]["recording"]["properties"])
    for key in ("recorded_at", "recorded_at_source"):
        assert of_check.pop(key) == result["properties"][key]
    assert of_check == result["$defs"]["recording"]["properties"]
