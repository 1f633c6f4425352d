"""Tidy tables: keys that join, a dictionary that says every column, hostile text as text, and the same numbers back."""

import csv
import json
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from imu_rom.errors import ImuRomError, MissingExtraError, ResultError
from imu_rom.exchange.angle_file import read_angle_file
from imu_rom.exchange.exported import Exported, named_apart
from imu_rom.exchange.spreadsheet_cells import FORMULA_STARTS
from imu_rom.exchange.tidy_files import write_parquet_tables, write_text_tables
from imu_rom.exchange.tidy_reading import read_tables
from imu_rom.exchange.tidy_tables import LAYOUTS, tidy_tables

from .conftest import HOSTILE

UNITS = {"_deg_s": "deg.s", "_deg": "deg", "_s": "s", "_hz": "Hz", "_min": "min"}
# the names that other programs depend on
NAMES = {
    "sessions": (
        "session, part, patient, bids_subject, recorded_at, task, plan, tendon_site, stage, exercise, "
        "candidates, side, joint, motion, kind, rate_hz, duration_s, worn_start_s, worn_stop_s, zero_start_s, "
        "zero_stop_s, zero_source, slips, prescribed_sets, prescribed_repetitions, window_low_deg, "
        "window_high_deg, limit_deg, compression_threshold_deg, compression_threshold_basis, sets, "
        "repetitions, partial, past_threshold_s, past_threshold_low_s, past_threshold_high_s, "
        "longest_past_threshold_s, excess_deg_s, loaded_s, unloaded_s, outside_sets_s, outside_sets_low_s, "
        "outside_sets_high_s, u_shared_deg, u_set_deg, findings, program_version"
    ),
    "sets": (
        "session, part, exercise, side, set, start_s, stop_s, repetitions, partial, prescribed_repetitions, "
        "reached, short, undecided, past_limit, hold_s, past_threshold_s, past_threshold_low_s, "
        "past_threshold_high_s, prescribed_low_s, prescribed_high_s, excess_deg_s, loaded_s, unloaded_s, "
        "verdict, prescribed_derived, longest_past_threshold_s, probability_reached, "
        "probability_within_limit, probability_above_window, probability_below_window"
    ),
    "repetitions": (
        "session, part, exercise, side, set, repetition, start_s, end_range_s, stop_s, end_range_deg, "
        "end_range_low_deg, end_range_high_deg, held_deg, hold_s, eccentric_s, concentric_s, "
        "past_threshold_s, past_threshold_low_s, past_threshold_high_s, excess_deg_s, probability_reached, "
        "reached, probability_within_limit, within_limit, complete, foot_deg, shank_lean_deg, ended_early, "
        "shaking_deg, sag_deg, sag_uncertainty_deg, start_deg, hold_start_s, hold_stop_s, "
        "end_range_uncertainty_deg, sustained_deg, deeper_than_asked, touched_by"
    ),
    "samples": ("session, part, time_s, angle_deg, standard_uncertainty_deg, zero_standard_uncertainty_deg, phase"),
    "weeks": (
        "patient, week, from_day, to_day, whole, days_recorded, days_ticked, days_unknown, highest_during, "
        "highest_after, highest_next_morning, mean_next_morning, mean_stiffness_min, days_during, days_after, "
        "days_next_morning, days_stiffness"
    ),
    "doses": (
        "patient, week, exercise, side, sessions_prescribed, repetitions_prescribed, "
        "under_tension_prescribed_s, recordings_prescribed, sessions_recorded, sessions_ticked, "
        "sessions_ticked_in_part, sessions_said_not_done, sessions_missing, sessions_excess, "
        "repetitions_recorded, repetitions_partial, repetitions_ticked, under_tension_recorded_s, "
        "under_tension_ticked_s, repetitions_missing, repetitions_excess, repetitions_reached, "
        "repetitions_short, repetitions_undecided, repetitions_past_limit, sessions_share_recorded, "
        "sessions_share_with_ticks, repetitions_share_recorded, repetitions_share_with_ticks, "
        "under_tension_share_recorded, under_tension_share_with_ticks, reached_share, reached_share_low, "
        "reached_share_high, past_threshold_measured_s, past_threshold_s, past_threshold_low_s, "
        "past_threshold_high_s, past_threshold_alike_low_s, past_threshold_alike_high_s, "
        "end_range_median_deg, end_range_median_low_deg, end_range_median_high_deg"
    ),
    "diary": (
        "patient, line, day, at, exercise, side, done, pain_before, pain_during, pain_after, "
        "pain_next_morning, stiffness_min, load_test_pain, painkiller, other_load, heel_lift, red_flags, note"
    ),
}
WRITERS = {"csv": write_text_tables, "parquet": write_parquet_tables}


@pytest.fixture(params=WRITERS)
def ending(request):
    if request.param == "parquet":
        pytest.importorskip("pyarrow")
    return request.param


def rows_of(path):
    with path.open(newline="", encoding="utf-8") as file:
        return list(csv.reader(file))


def same_tables(exported, read):
    written = {each.layout.name: each for each in tidy_tables(exported)}
    assert read.tables == written


@pytest.mark.parametrize("which", ["exported", "two_exercises", "exported_course"])
def test_tables_read_back_to_the_last_digit(which, ending, request, tmp_path):
    exported = request.getfixturevalue(which)
    WRITERS[ending](exported, tmp_path / "out")
    same_tables(exported, read_tables(tmp_path / "out"))


@pytest.mark.parametrize("which", ["exported", "two_exercises"])
def test_samples_read_back_to_the_last_digit(which, ending, request, tmp_path):
    exported = request.getfixturevalue(which)
    (result,) = exported.results
    WRITERS[ending](exported, tmp_path / "out")
    samples = read_tables(tmp_path / "out").samples
    angle = read_angle_file(result.angle_file, result.document)
    for name, values in samples.numbers.items():
        assert np.array_equal(values, getattr(angle.trace, name), equal_nan=True), name
    assert np.array_equal(samples.part, angle.part + 1)
    phases = np.array(angle.trace.phase_names)[angle.trace.phase]
    assert np.array_equal(np.array(samples.names["phase"])[samples.words["phase"]], phases)
    assert samples.names["session"] == (result.session,)


@pytest.mark.parametrize("which", ["exported", "exported_course"])
def test_the_dictionary_says_every_column_that_is_written(which, request, tmp_path):
    write_text_tables(request.getfixturevalue(which), tmp_path / "out")
    dictionary = json.loads((tmp_path / "out" / "dictionary.json").read_text("utf-8"))
    markdown = (tmp_path / "out" / "dictionary.md").read_text("utf-8")
    files = {path.name for path in (tmp_path / "out").glob("*.csv")}
    assert {each["file"] for each in dictionary["tables"]} == files
    for table in dictionary["tables"]:
        heading = rows_of(tmp_path / "out" / table["file"])[0]
        assert [each["name"] for each in table["columns"]] == heading
        section = markdown.split(f"## {table['file']}\n")[1].split("\n## ")[0]
        told = [line.split("|")[1].strip(" `") for line in section.splitlines() if line.startswith("| `")]
        assert told == heading


def test_the_columns_are_the_published_ones():
    assert {name: ", ".join(layout.names) for name, layout in LAYOUTS.items()} == NAMES


def test_every_column_has_a_meaning_and_the_unit_of_its_name():
    for layout in LAYOUTS.values():
        assert set(layout.key) <= set(layout.names)
        assert len(set(layout.names)) == len(layout.names)
        for each in layout.columns:
            assert each.meaning
            assert (each.unit == "") == (each.kind in {"text", "yes or no"} or each.name in {
                "part", "set", "repetition", "week", "line"}), each.name  # fmt: skip
            unit = next((unit for end, unit in UNITS.items() if each.name.endswith(end)), None)
            assert unit in {None, each.unit}, each.name


@pytest.mark.parametrize("which", ["exported", "two_exercises", "exported_course"])
def test_keys_tell_rows_apart_and_join_tables(which, request):
    tables = {each.layout.name: each for each in tidy_tables(request.getfixturevalue(which))}
    keys = {}
    for name, table in tables.items():
        keys[name] = [tuple(row[column] for column in table.layout.key) for row in table.rows]
        assert len(set(keys[name])) == len(keys[name]) > 0, name
    assert {key[:2] for key in keys["sets"]} <= set(keys["sessions"])
    assert {key[:3] for key in keys["repetitions"]} == set(keys["sets"])


def test_sessions_of_the_same_name_are_told_apart(exported):
    twice = named_apart((*exported.results, *exported.results, *exported.results))
    (name,) = {each.session for each in exported.results}
    assert [each.session for each in twice] == [name, f"{name} (2)", f"{name} (3)"]


def renamed(exported, text):
    """The same with a text in every place that takes one."""
    (result,) = exported.results
    document = result.document
    answers = tuple(replace(each, exercise=replace(each.exercise, name=text)) for each in document.exercises)
    recording = replace(document.recording, label=text, task=text, subject=text)
    document = replace(
        document, plan_title=text, stage=text, patient=text, bids_subject=text, recording=recording, exercises=answers
    )
    return Exported((replace(result, session=text, document=document),))


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_names_come_through_as_text(exported, ending, text, tmp_path):
    hostile = renamed(exported, text)
    WRITERS[ending](hostile, tmp_path / "out")
    read = read_tables(tmp_path / "out")
    same_tables(hostile, read)
    assert read.tables["sessions"].rows[0]["exercise"] == text
    assert read.samples.names["session"] == (text,)


@pytest.mark.parametrize("text", HOSTILE)
def test_no_cell_of_text_begins_as_a_formula_does(exported, text, tmp_path):
    write_text_tables(renamed(exported, text), tmp_path / "out")
    for layout in LAYOUTS.values():
        path = tmp_path / "out" / f"{layout.name}.csv"
        for row in rows_of(path)[1:50] if path.exists() else ():
            for column, cell in zip(layout.columns, row, strict=True):
                if column.kind == "text":
                    assert not cell.startswith(FORMULA_STARTS), (layout.name, column.name)
                elif column.kind != "yes or no" and cell:
                    float(cell)


@settings(max_examples=40, deadline=None)
@given(text=st.text(st.characters(exclude_categories=["Cs"]), min_size=1))
def test_any_text_reads_back(exported, tmp_path_factory, text):
    without_samples = Exported(tuple(replace(each, angle_file=None) for each in renamed(exported, text).results))
    out = tmp_path_factory.mktemp("any") / "out"
    write_text_tables(without_samples, out)
    same_tables(without_samples, read_tables(out))


def test_half_a_character_is_no_traceback(exported, ending, tmp_path):
    WRITERS[ending](renamed(exported, "\ud800"), tmp_path / "out")
    assert read_tables(tmp_path / "out").tables["sessions"].rows[0]["exercise"] == "?"


@pytest.mark.parametrize(
    ("name", "old", "new", "said"),
    [
        ("sets.csv", ",over,", ",over", r"sets\.csv:\d+: must have \d+ cells"),
        ("repetitions.csv", ",yes,", ",maybe,", None),
        ("repetitions.csv", "session,part", "session,port", r"repetitions\.csv:1: has other columns"),
        ("sessions.csv", "auto,1", "auto,many", r"sessions\.csv:2:\d+: slips must be a whole number, got 'many'"),
        ("samples.csv", "setup", "\x00", None),
        ("samples.csv", "session,part", "session,port", "samples"),
    ],
)
def test_faults_are_named(exported, tmp_path, name, old, new, said):
    write_text_tables(exported, tmp_path / "out")
    path = tmp_path / "out" / name
    text = path.read_text("utf-8")
    assert old in text or said is None
    path.write_text(text.replace(old, new, 1), "utf-8")
    if said is None:
        read_tables(tmp_path / "out")
    else:
        with pytest.raises(ResultError, match=said):
            read_tables(tmp_path / "out")


@pytest.mark.parametrize("name", ["sessions", "sets", "repetitions", "samples"])
def test_a_missing_table_is_one_sentence(exported, ending, tmp_path, name):
    WRITERS[ending](exported, tmp_path / "out")
    (tmp_path / "out" / f"{name}.{ending}").unlink()
    with pytest.raises(ImuRomError, match="no such file"):
        read_tables(tmp_path / "out")


def test_without_pyarrow_the_extra_is_named(exported, tmp_path, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "pyarrow", None)
    monkeypatch.setitem(__import__("sys").modules, "pyarrow.parquet", None)
    with pytest.raises(MissingExtraError, match=r"pip install 'imu-rom\[parquet\]'"):
        write_parquet_tables(exported, tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_parquet_holds_units_and_meanings(exported, tmp_path):
    pq = pytest.importorskip("pyarrow.parquet")
    write_parquet_tables(exported, tmp_path / "out")
    for name, layout in LAYOUTS.items():
        if "session" in layout.key:
            schema = pq.read_schema(tmp_path / "out" / f"{name}.parquet")
            told = [(each.name, each.metadata[b"unit"].decode()) for each in schema]
            assert told == [(each.name, each.unit) for each in layout.columns]
