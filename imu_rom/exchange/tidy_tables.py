"""Rows of the tables that go out: sessions, sets, repetitions, samples; of a course its diary and weeks too."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from imu_rom.dose.exposure import Exposure
from imu_rom.exchange.angle_file import read_angle_file
from imu_rom.exchange.document import ExerciseAnswer
from imu_rom.exchange.exported import Exported, ExportedResult
from imu_rom.exchange.fixed_decimals import NumberColumn, WordColumn
from imu_rom.exchange.result_layout import repetition_to_layout, set_to_layout
from imu_rom.exchange.tables import ANGLE_DECIMALS, TIME_DECIMALS
from imu_rom.exchange.tidy_columns import REPETITIONS, SAMPLES, SESSIONS, SETS, TableLayout
from imu_rom.exchange.tidy_course import DIARY, DOSES, WEEKS, diary_rows, dose_rows, week_rows

__all__ = ["LAYOUTS", "Row", "TidyTable", "sample_columns", "tidy_tables"]

Row = Mapping[str, object]

LAYOUTS: Mapping[str, TableLayout] = {
    each.name: each for each in (SESSIONS, SETS, REPETITIONS, SAMPLES, WEEKS, DOSES, DIARY)
}
"""All tables by name; those of a course come last."""


@dataclass(frozen=True)
class TidyTable:
    """One table that fits into memory.

    Parameters
    ----------
    layout : TableLayout
        Its columns.
    rows : tuple of mapping of str to value
        Text, numbers, booleans or None, by column.
    """

    layout: TableLayout
    rows: tuple[Row, ...]


def tidy_tables(exported: Exported) -> tuple[TidyTable, ...]:
    """Make all tables but that of the samples.

    Parameters
    ----------
    exported : Exported
        What goes out.

    Returns
    -------
    tuple of TidyTable
        Sessions, sets and repetitions; of a course weeks, doses and diary as well.
    """
    answers = list(_answers(exported))
    tables = [
        _table(SESSIONS, [_session(*each) for each in answers]),
        _table(SETS, [row for each in answers for row in _sets(*each)]),
        _table(REPETITIONS, [row for each in answers for row in _repetitions(*each)]),
    ]
    if exported.course is not None:
        tables += [
            _table(WEEKS, week_rows(exported.course)),
            _table(DOSES, dose_rows(exported.course)),
            _table(DIARY, diary_rows(exported.course)),
        ]
    return tuple(tables)


def sample_columns(result: ExportedResult, words: Mapping[str, str]) -> tuple[NumberColumn | WordColumn, ...]:
    """Make the table of one result's samples.

    Parameters
    ----------
    result : ExportedResult
        With an ``angle.csv``.
    words : mapping of str to str
        Asked for each text (`Mapping.__getitem__`) how it stands in a cell.

    Returns
    -------
    tuple of NumberColumn or WordColumn
        The columns of ``SAMPLES``; arrays of the whole recording.

    Raises
    ------
    ResultError
        The ``angle.csv`` can't be read.
    """
    if result.angle_file is None:
        raise ValueError("there are no samples")
    angle = read_angle_file(result.angle_file, result.document)
    trace = angle.trace
    nothing = np.zeros(len(trace.time_s), dtype=np.int16)
    return (
        WordColumn("session", nothing, (words[result.session],), quoted=True),
        NumberColumn("part", (angle.part + 1).astype(np.float64), 0),
        NumberColumn("time_s", trace.time_s, TIME_DECIMALS),
        NumberColumn("angle_deg", trace.angle_deg, ANGLE_DECIMALS),
        NumberColumn("standard_uncertainty_deg", trace.standard_uncertainty_deg, ANGLE_DECIMALS),
        NumberColumn("zero_standard_uncertainty_deg", trace.zero_standard_uncertainty_deg, ANGLE_DECIMALS),
        WordColumn("phase", trace.phase, tuple(words[each] for each in trace.phase_names), quoted=True),
    )


def _table(layout: TableLayout, rows: Sequence[Row]) -> TidyTable:
    # a text of no letters says nothing
    return TidyTable(
        layout, tuple({name: None if row[name] == "" else row[name] for name in layout.names} for row in rows)
    )


def _answers(exported: Exported) -> Iterator[tuple[ExportedResult, int, ExerciseAnswer]]:
    for result in exported.results:
        for part, answer in enumerate(result.document.exercises, start=1):
            yield result, part, answer


def _whose(result: ExportedResult, part: int, answer: ExerciseAnswer) -> dict[str, object]:
    return {
        "session": result.session,
        "part": part,
        "exercise": answer.exercise.name,
        "side": answer.exercise.side,
    }


def _exposure(exposure: Exposure | None) -> dict[str, object]:
    names = ("past_threshold_s", "past_threshold_low_s", "past_threshold_high_s", "excess_deg_s", "loaded_s")
    values = {name: None if exposure is None else getattr(exposure, name) for name in (*names, "unloaded_s")}
    return {**values, "longest_past_threshold_s": None if exposure is None else exposure.longest_s}


def _session(result: ExportedResult, part: int, answer: ExerciseAnswer) -> Row:
    document, exercise, done = result.document, answer.exercise, answer.comparison
    recording, threshold = document.recording, exercise.compression_threshold
    low_deg, high_deg = exercise.end_range_deg or (None, None)
    return {
        **_whose(result, part, answer),
        **_exposure(done.exposure),
        "patient": document.patient,
        "bids_subject": document.bids_subject,
        "recorded_at": recording.recorded_at,
        "task": recording.task,
        "plan": document.plan_title,
        "tendon_site": document.tendon_site,
        "stage": document.stage,
        "candidates": None if answer.allotment is None else " ".join(answer.allotment.candidates) or None,
        "joint": exercise.joint,
        "motion": exercise.motion,
        "kind": exercise.kind,
        "rate_hz": recording.rate_hz,
        "duration_s": recording.duration_s,
        "worn_start_s": answer.worn_start_s,
        "worn_stop_s": answer.worn_stop_s,
        "zero_start_s": answer.zero.start_s,
        "zero_stop_s": answer.zero.stop_s,
        "zero_source": answer.zero.source,
        "slips": len(answer.slips),
        "prescribed_sets": done.prescribed_sets,
        "prescribed_repetitions": done.prescribed_repetitions,
        "window_low_deg": low_deg,
        "window_high_deg": None if high_deg is None or not np.isfinite(high_deg) else high_deg,
        "limit_deg": exercise.limit_deg,
        "compression_threshold_deg": None if threshold is None else threshold.deg,
        "compression_threshold_basis": None if threshold is None else threshold.basis,
        "sets": len(done.sets),
        "repetitions": done.complete,
        "partial": done.partial,
        "outside_sets_s": done.outside_sets_s,
        "outside_sets_low_s": done.outside_sets_low_s,
        "outside_sets_high_s": done.outside_sets_high_s,
        "u_shared_deg": answer.u_shared_deg,
        "u_set_deg": answer.u_set_deg,
        "findings": " ".join(dict.fromkeys(each.code for each in document.findings)) or None,
        "program_version": document.program_version,
    }


def _sets(result: ExportedResult, part: int, answer: ExerciseAnswer) -> Iterator[Row]:
    for done in answer.comparison.sets:
        yield {**_whose(result, part, answer), **set_to_layout(done), "repetitions": done.complete}


def _repetitions(result: ExportedResult, part: int, answer: ExerciseAnswer) -> Iterator[Row]:
    for done in answer.comparison.sets:
        for each in done.repetitions:
            yield {
                **_whose(result, part, answer),
                "set": done.number,
                **repetition_to_layout(each),
                "foot_deg": None if each.floor is None else each.floor.foot_deg,
                "shank_lean_deg": None if each.floor is None else each.floor.shank_lean_deg,
                "touched_by": " ".join(each.touched_by) or None,
            }
