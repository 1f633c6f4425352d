"""The tables: exactly the published columns, in order, and the same numbers as ``result.json``."""

import csv
import io
import json
from dataclasses import replace

import jsonschema
import numpy as np
import pytest

from imu_rom.exchange.document import result_document
from imu_rom.exchange.result import parse_result, result_schema, write_result
from imu_rom.exchange.tables import angle_table, repetition_table, set_table

# the names that other programs depend on
REPETITIONS = (
    "exercise, side, set, repetition, start_s, end_range_s, stop_s, end_range_deg, end_range_low_deg, "
    "end_range_high_deg, held_deg, hold_s, eccentric_s, concentric_s, past_threshold_s, past_threshold_low_s, "
    "past_threshold_high_s, excess_deg_s, probability_reached, reached, probability_within_limit, within_limit, "
    "complete, foot_deg, shank_lean_deg, ended_early, shaking_deg, sag_deg, sag_uncertainty_deg"
)
SETS = (
    "exercise, side, set, start_s, stop_s, repetitions, partial, prescribed_repetitions, reached, short, undecided, "
    "past_limit, hold_s, past_threshold_s, past_threshold_low_s, past_threshold_high_s, prescribed_low_s, "
    "prescribed_high_s, excess_deg_s, loaded_s, unloaded_s, verdict"
)


def rows_of(table):
    return list(csv.DictReader(io.StringIO(table.decode(), newline="")))


def heading_of(table):
    return table.decode().splitlines()[0].replace(",", ", ")


def test_foot_and_shank_stand_in_the_table_where_the_floor_is_asked_for(make_session, floordrop):
    document = result_document(make_session(depths=((6.0, -9.0),), exercise=floordrop))
    flat, raised = rows_of(repetition_table(document.exercises))
    assert (float(flat["foot_deg"]), float(flat["shank_lean_deg"])) == pytest.approx((0, 6), abs=0.2)
    assert (float(raised["foot_deg"]), float(raised["shank_lean_deg"])) == pytest.approx((-9, 0), abs=0.2)
    assert (flat["reached"], raised["reached"]) == ("yes", "no")


@pytest.fixture(scope="module")
def document(make_session):
    return result_document(make_session(depths=((10.0,) * 4, (-12.0, 3.0, 30.0))))


def test_a_way_back_that_was_not_seen_is_no_time_of_zero(stayed_session):
    document = result_document(stayed_session)
    written = write_result(document)
    (done,) = json.loads(written)["exercises"][0]["sets"]
    jsonschema.Draft202012Validator(result_schema()).validate(json.loads(written))
    assert [each["concentric_s"] for each in done["repetitions"]] == [1.5, None]
    assert [each["concentric_s"] for each in rows_of(repetition_table(document.exercises))] == ["1.500", ""]
    again = parse_result(written, "result.json")
    (read,) = again.exercises[0].comparison.sets
    assert [each.repetition.concentric_s for each in read.repetitions] == pytest.approx([1.5, None])
    assert write_result(again) == written


def test_the_columns_are_the_published_ones(document):
    assert heading_of(repetition_table(document.exercises)) == REPETITIONS
    assert heading_of(set_table(document.exercises)) == SETS
    assert heading_of(repetition_table(())) == REPETITIONS


def test_cells_equal_the_result_file(document):
    sets = json.loads(write_result(document))["exercises"][0]["sets"]
    expected = [(done, each) for done in sets for each in done["repetitions"]]
    rows = rows_of(repetition_table(document.exercises))
    assert len(rows) == 7
    for row, (done, each) in zip(rows, expected, strict=True):
        assert (row["exercise"], row["side"], row["set"]) == ("heeldrop", "left", str(done["set"]))
        for name in row.keys() - {"exercise", "side", "set"}:
            if name in {"foot_deg", "shank_lean_deg"}:
                assert (row[name], each["floor"]) == ("", None)
                continue
            if name in {"ended_early", "shaking_deg", "sag_deg", "sag_uncertainty_deg"}:
                assert (row[name], each[name]) == ("", None)
                continue
            shown, value = row[name], each[name]
            if isinstance(value, bool):
                assert shown == ("yes" if value else "no")
            elif isinstance(value, float):
                assert float(shown) == value
                assert len(shown.partition(".")[2]) == (4 if name.startswith("probability") else 3)
            else:
                assert shown == str(value)
    for row, done in zip(rows_of(set_table(document.exercises)), sets, strict=True):
        assert row["repetitions"] == str(done["complete"])
        for name in row.keys() - {"exercise", "side", "repetitions"}:
            assert (float(row[name]) if isinstance(done[name], float) else row[name]) == (
                done[name] if isinstance(done[name], float) else str(done[name])
            )


def test_what_is_not_prescribed_is_an_empty_cell(make_session, unprescribed):
    document = result_document(make_session(depths=((10.0,) * 2,), exercise=unprescribed))
    row = rows_of(repetition_table(document.exercises))[0]
    assert (row["past_threshold_s"], row["excess_deg_s"], row["probability_reached"]) == ("", "", "")
    assert (row["reached"], row["within_limit"]) == ("not prescribed", "not prescribed")
    row = rows_of(set_table(document.exercises))[0]
    assert (row["prescribed_low_s"], row["prescribed_high_s"], row["loaded_s"]) == ("", "", "")
    assert row["verdict"] == "not prescribed"


def test_an_open_end_is_an_empty_cell(make_session, heeldrop):
    exercise = replace(heeldrop, past_threshold_s_per_set=(20.0, np.inf))
    row = rows_of(set_table(result_document(make_session(depths=((10.0,),), exercise=exercise)).exercises))[0]
    assert (row["prescribed_low_s"], row["prescribed_high_s"]) == ("20.000", "")


def test_the_angle_is_written_with_and_without_phases(made_session):
    trace = made_session.exercises[0].trace
    lines = b"".join(angle_table(trace)).decode().splitlines()
    assert lines[0] == "time_s,angle_deg,standard_uncertainty_deg,zero_standard_uncertainty_deg,phase"
    assert len(lines) == len(trace.time_s) + 1
    assert lines[1] == "0.0000,12.000,2.154,2.000,setup"
    at = int(np.argmax(trace.phase == trace.phase_names.index("set 2")))
    assert lines[1 + at].startswith(f"{trace.time_s[at]:.4f},{trace.angle_deg[at]:.3f},")
    assert lines[1 + at].endswith(",set 2")
    assert {line.rsplit(",", 1)[1] for line in lines[1:]} == set(trace.phase_names)
    without = b"".join(angle_table(trace, phases=False)).decode().splitlines()
    assert without == [line.rsplit(",", 1)[0] for line in lines]
