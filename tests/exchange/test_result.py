"""``result.json``: complete, valid against its published schema, the same bytes each time, and read back equal."""

import json
import math
from dataclasses import fields, is_dataclass, replace

import jsonschema
import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from imu_rom.errors import ResultError
from imu_rom.exchange.document import result_document
from imu_rom.exchange.plain_values import fixed, json_text, plain, rounded
from imu_rom.exchange.result import parse_result, read_result, result_schema, write_result
from imu_rom.findings import Finding


def equal(one, other):
    """Equality of nested dataclasses that hold arrays."""
    if is_dataclass(one):
        return type(one) is type(other) and all(
            equal(getattr(one, each.name), getattr(other, each.name)) for each in fields(one)
        )
    if isinstance(one, tuple):
        return len(one) == len(other) and all(equal(*pair) for pair in zip(one, other, strict=True))
    if isinstance(one, np.ndarray):
        return np.array_equal(one, other)
    return one == other


@pytest.fixture(scope="module")
def document(made_session):
    return result_document(made_session)


@pytest.fixture(scope="module")
def text(document):
    return write_result(document)


@pytest.fixture(scope="module")
def layout(text):
    return json.loads(text)


def check(layout):
    jsonschema.Draft202012Validator.check_schema(result_schema())
    jsonschema.Draft202012Validator(result_schema(), format_checker=jsonschema.FormatChecker()).validate(layout)


def test_it_is_valid_and_a_changed_key_is_not(layout):
    check(layout)
    for broken in ({**layout, "extra": 1}, {**layout, "schema_version": 2}, {**layout, "findings": None}):
        with pytest.raises(jsonschema.ValidationError):
            check(broken)


def test_nothing_prescribed_is_valid_and_null(make_session, unprescribed):
    layout = json.loads(write_result(result_document(make_session(exercise=unprescribed))))
    check(layout)
    done = layout["exercises"][0]["sets"][0]
    assert done["verdict"] == "not prescribed"
    assert done["past_threshold_s"] is done["prescribed_low_s"] is done["probability_reached"] is None
    assert done["repetitions"][0]["reached"] == "not prescribed"
    assert done["repetitions"][0]["exposure_curve"]["time_past_s"][0] > 5


def test_the_floor_is_valid_and_read_back(make_session, floordrop):
    document = result_document(make_session(depths=((6.0,) * 3,), exercise=floordrop))
    text = write_result(document)
    check(json.loads(text))
    assert equal(parse_result(text, "result.json"), document)
    contact = json.loads(text)["exercises"][0]["sets"][0]["repetitions"][0]["floor"]
    assert contact["foot_low_deg"] < contact["foot_deg"] < contact["foot_high_deg"]
    assert contact["shank_lean_deg"] == pytest.approx(6.0, abs=0.1)


def test_what_is_read_equals_what_was_written(document, text, make_session, unprescribed, heeldrop, strike, tmp_path):
    (tmp_path / "result.json").write_bytes(text)
    assert equal(read_result(tmp_path / "result.json"), document)
    open_ended = replace(heeldrop, end_range_deg=(5, math.inf), past_threshold_s_per_set=(20.0, math.inf))
    for session in (
        make_session(exercise=unprescribed, patient=None),
        make_session(depths=((30.0, -10.0), (3.0,)), exercise=open_ended, marks=(strike,)),
    ):
        one = result_document(session)
        again = parse_result(write_result(one), "result.json")
        assert equal(again, one)
        assert write_result(again) == write_result(one)


def test_an_open_window_is_null_in_the_file(make_session, heeldrop):
    open_ended = replace(heeldrop, end_range_deg=(5.0, math.inf), past_threshold_s_per_set=(20.0, math.inf))
    layout = json.loads(write_result(result_document(make_session(depths=((10.0,),), exercise=open_ended))))
    check(layout)
    assert layout["exercises"][0]["exercise"]["end_range_deg"] == [5.0, None]
    assert layout["exercises"][0]["sets"][0]["prescribed_high_s"] is None
    assert layout["exercises"][0]["sets"][0]["prescribed_low_s"] == 20.0


def test_the_same_session_gives_the_same_bytes(text, make_session):
    assert write_result(result_document(make_session())) == text


def test_all_that_later_work_needs_is_there(layout, made_session):
    provenance = layout["provenance"]
    assert {each["role"]: each["sha256"] for each in provenance["inputs"]} == {"recording": "a" * 64, "plan": "b" * 64}
    assert set(provenance["versions"]) >= {"python", "numpy", "scipy", "pandas", "vqf"}
    assert provenance["settings"] == made_session.settings.as_mapping()
    (budget,) = provenance["uncertainty_budget"]
    assert budget["parts_deg"]["zero_pose"] == 2.0
    assert budget["terms"][0] == {
        "name": "zero_pose", "value_deg": 2.0, "shared_by": "session", "scales_with": "nothing", "source": "practice",
    }  # fmt: skip
    assert layout["recorded_at"] == "2026-12-03T18:02:11+01:00"
    assert (layout["patient"], layout["bids_subject"], layout["stage"]) == ("P-0017", "P0017", "into range")
    answer = layout["exercises"][0]
    assert (answer["u_shared_deg"], answer["u_set_deg"]) == (2.0, 0.8)
    assert [each["use"] for each in answer["later_poses"]] == ["agrees", "new zero"]
    assert answer["slips"][0] == {
        "time_s": 260.04, "earliest_s": 260.04, "latest_s": 260.04, "sensor": "distal", "size_deg": 6.5,
        "evidence": "axis", "new_zero_s": [300.0, 306.0],
    }  # fmt: skip
    assert [each["could_serve"] for each in answer["zero"]["candidates"]] == [False, True]
    assert answer["alignment"]["quality"] == 0.93
    assert len(answer["sets"]) == 3
    assert len(answer["sets"][0]["repetitions"]) == 15
    assert layout["findings"][0]["code"] == "gap"


def test_the_curve_gives_the_written_time_past_the_threshold(layout):
    for done in layout["exercises"][0]["sets"]:
        for each in done["repetitions"]:
            curve = each["exposure_curve"]
            at = round((4.0 - curve["first_deg"]) / curve["step_deg"])
            assert curve["time_past_s"][at] == pytest.approx(each["past_threshold_s"], abs=0.0011)
            assert curve["time_past_s"][-1] == 0


def test_no_key_of_the_file_says_where_or_when_it_was_made(layout, tmp_path):
    words = json.dumps(layout)
    assert str(tmp_path.anchor) + "tmp" not in words
    assert "/" not in "".join(each["name"] for each in layout["provenance"]["inputs"])
    assert not any("run" in key or "elapsed" in key or "written_at" in key for key in layout)


def test_numbers_keep_fixed_decimals(layout):
    def numbers(value, name=""):
        if isinstance(value, dict):
            for key, each in value.items():
                yield from numbers(each, key)
        elif isinstance(value, list):
            for each in value:
                yield from numbers(each, name)
        elif isinstance(value, float):
            yield name, value

    for name, value in numbers(layout["exercises"]):
        assert value == round(value, 3 if name.endswith(("_s", "_deg")) else 4), name
        assert math.copysign(1, value) == 1 or value < 0


def test_nan_is_never_written(made_session):
    document = result_document(made_session)
    with pytest.raises(ValueError, match="NaN"):
        write_result(replace(document, findings=(Finding("x", "note", "X.", math.nan),)))


def test_a_hostile_text_comes_back_as_it_was(make_session):
    hostile = "</script>\u202e\"'=1+1\u2028 \N{PILE OF POO}" + "x" * 200
    session = make_session(depths=((10.0,),), findings=(Finding("x", "note", hostile),), patient=hostile)
    document = result_document(session)
    assert equal(parse_result(write_result(document), "r"), document)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (lambda text: text[: len(text) // 2], r"result\.json:\d+:\d+: is damaged or cut off"),
        (lambda text: b"\xff\xfe" + text, "is damaged or no JSON text"),
        (lambda _text: b"", r"result\.json:1:1: is damaged or cut off"),
        (lambda _text: b"[" * 100_000, "is damaged or no JSON text"),
        (lambda _text: b"[1, 2]", "is no result of this program"),
        (lambda _text: b'{"format": "other"}', "is no result of this program"),
        (lambda text: text.replace(b'"schema_version": 1', b'"schema_version": 2'), "newer version .*; update imu-rom"),
        (lambda text: text.replace(b'"schema_version": 1', b'"schema_version": "1"'), "must be a whole number"),
        (lambda text: text.replace(b'"patient": "P-0017",', b""), "is missing 'patient'"),
        (lambda text: text.replace(b'"set": 2,', b""), r"exercises\[0\]\.sets\[1\]: is missing 'set'"),
        (
            lambda text: text.replace(b'"set": 2,', b'"set": "two",'),
            r"sets\[1\]\.number: must be a whole number, got 'two'",
        ),
        (
            lambda text: text.replace(b'"verdict": "met"', b'"verdict": "fine"', 1),
            r"sets\[0\]\.verdict: must be one of",
        ),
        (lambda text: text.replace(b'"rate_hz": 50.0', b'"rate_hz": NaN'), "is damaged or no JSON text"),
        (lambda text: text.replace(b'"side": "left"', b'"side": "both"', 1), "side: must be one of 'left', 'right'"),
        (lambda text: text.replace(b'"zero": {', b'"zero": [', 1).replace(b"]", b"]"), "is damaged"),
        (lambda text: text.replace(b'"stage_from": "2026-12-01"', b'"stage_from": "soon"'), "must be a date"),
    ],
)
def test_a_broken_file_is_one_sentence(text, tmp_path, change, sentence):
    path = tmp_path / "result.json"
    path.write_bytes(change(text))
    with pytest.raises(ResultError, match=sentence) as caught:
        read_result(path)
    assert str(caught.value).count("\n") == 0


def test_a_missing_or_huge_file_is_one_sentence(tmp_path):
    with pytest.raises(ResultError, match="can't be read: no such file"):
        read_result(tmp_path / "result.json")
    with pytest.raises(ResultError, match="can't be read: is a directory"):
        read_result(tmp_path)
    with (tmp_path / "huge.json").open("wb") as file:
        file.truncate(70_000_000)
    with pytest.raises(ResultError, match="at most 64 MB, got 70 MB"):
        read_result(tmp_path / "huge.json")


@given(st.floats(-1e6, 1e6), st.integers(0, 4))
@example(0.0005, 0)  # np.round takes this half to the other side
def test_fixed_numbers_are_the_nearest_and_never_minus_zero(value, decimals):
    number = fixed(value, decimals)
    assert abs(number - value) <= 0.5 * 10**-decimals * (1 + 1e-6)
    assert repr(number) != "-0.0"
    assert rounded(np.array([value]), "x_s")[0] == fixed(value, 3)


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
        lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
        max_leaves=20,
    )
)
def test_json_text_is_json(value):
    assert json.loads(json_text(value)) == value


def test_plain_refuses_what_json_has_not():
    with pytest.raises(ValueError, match="finite"):
        plain(np.array([1.0, np.inf]))
    with pytest.raises(TypeError, match="no plain form"):
        plain(object())
