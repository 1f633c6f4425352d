"""Tables of a result as comma-separated text: repetitions, sets and the angle over time.

A cell that is empty is not prescribed or not known; seconds and degrees have 3 decimals, probabilities 4.
"""

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence

from imu_rom.dose.compared import RepetitionComparison
from imu_rom.exchange.document import ExerciseAnswer
from imu_rom.exchange.fixed_decimals import NumberColumn, WordColumn, table_blocks
from imu_rom.exchange.result_layout import repetition_to_layout, set_to_layout
from imu_rom.session.result import AngleTrace

__all__ = [
    "ANGLE_COLUMNS",
    "REPETITION_COLUMNS",
    "SET_COLUMNS",
    "angle_table",
    "repetition_table",
    "set_table",
]

# stamps of an uneven rate (60 Hz) keep their order and their interval to a tenth of a millisecond
TIME_DECIMALS = 4
ANGLE_DECIMALS = 3
PROBABILITY_DECIMALS = 4

ANGLE_COLUMNS = ("time_s", "angle_deg", "standard_uncertainty_deg", "zero_standard_uncertainty_deg", "phase")

REPETITION_COLUMNS = (
    "exercise",
    "side",
    "set",
    "repetition",
    "start_s",
    "end_range_s",
    "stop_s",
    "end_range_deg",
    "end_range_low_deg",
    "end_range_high_deg",
    "held_deg",
    "hold_s",
    "eccentric_s",
    "concentric_s",
    "past_threshold_s",
    "past_threshold_low_s",
    "past_threshold_high_s",
    "excess_deg_s",
    "probability_reached",
    "reached",
    "probability_within_limit",
    "within_limit",
    "complete",
    "foot_deg",
    "shank_lean_deg",
    "ended_early",
    "shaking_deg",
    "sag_deg",
    "sag_uncertainty_deg",
)

SET_COLUMNS = (
    "exercise",
    "side",
    "set",
    "start_s",
    "stop_s",
    "repetitions",
    "partial",
    "prescribed_repetitions",
    "reached",
    "short",
    "undecided",
    "past_limit",
    "hold_s",
    "past_threshold_s",
    "past_threshold_low_s",
    "past_threshold_high_s",
    "prescribed_low_s",
    "prescribed_high_s",
    "excess_deg_s",
    "loaded_s",
    "unloaded_s",
    "verdict",
)


def _cell(name: str, value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float) and name.endswith(("_s", "_deg")):
        return f"{value:.{ANGLE_DECIMALS}f}"
    if isinstance(value, int | float) and name.startswith("probability"):
        return f"{value:.{PROBABILITY_DECIMALS}f}"
    return str(value)


def _table(columns: Sequence[str], rows: Iterable[Mapping[str, object]]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([_cell(name, row[name]) for name in columns] for row in rows)
    return text.getvalue().encode()


def _whose(answer: ExerciseAnswer) -> dict[str, object]:
    return {"exercise": answer.exercise.name, "side": answer.exercise.side}


def _floor(done: RepetitionComparison) -> dict[str, object]:
    contact = done.floor
    return {
        "foot_deg": None if contact is None else contact.foot_deg,
        "shank_lean_deg": None if contact is None else contact.shank_lean_deg,
    }


def repetition_table(answers: Sequence[ExerciseAnswer]) -> bytes:
    """Table of all repetitions, ``repetitions.csv``.

    Parameters
    ----------
    answers : sequence of ExerciseAnswer
        Exercises of a `ResultDocument`.

    Returns
    -------
    bytes
        UTF-8 text with the columns of ``REPETITION_COLUMNS``.
    """
    return _table(
        REPETITION_COLUMNS,
        (
            {**_whose(answer), "set": done.number, **repetition_to_layout(each), **_floor(each)}
            for answer in answers
            for done in answer.comparison.sets
            for each in done.repetitions
        ),
    )


def set_table(answers: Sequence[ExerciseAnswer]) -> bytes:
    """Table of all sets, ``sets.csv``.

    Parameters
    ----------
    answers : sequence of ExerciseAnswer
        Exercises of a `ResultDocument`.

    Returns
    -------
    bytes
        UTF-8 text with the columns of ``SET_COLUMNS``.
    """
    return _table(
        SET_COLUMNS,
        (
            {**_whose(answer), **set_to_layout(done), "repetitions": done.complete}
            for answer in answers
            for done in answer.comparison.sets
        ),
    )


def angle_table(trace: AngleTrace, *, phases: bool = True) -> Iterator[bytes]:
    """Table of the joint angle over time, ``angle.csv``, a block of rows at a time.

    Parameters
    ----------
    trace : AngleTrace
        The joint angle.
    phases : bool
        True writes the phase of each sample as the last column.

    Returns
    -------
    iterator of bytes
        UTF-8 text with the columns of ``ANGLE_COLUMNS``.
    """
    columns: list[NumberColumn | WordColumn] = [
        NumberColumn("time_s", trace.time_s, TIME_DECIMALS),
        NumberColumn("angle_deg", trace.angle_deg, ANGLE_DECIMALS),
        NumberColumn("standard_uncertainty_deg", trace.standard_uncertainty_deg, ANGLE_DECIMALS),
        NumberColumn("zero_standard_uncertainty_deg", trace.zero_standard_uncertainty_deg, ANGLE_DECIMALS),
    ]
    if phases:
        columns.append(WordColumn("phase", trace.phase, trace.phase_names))
    return table_blocks(columns)
