"""Tables of a result as comma-separated text: repetitions, sets and the angle over time.

A cell that is empty is not prescribed or not known; seconds and degrees have 3 decimals, probabilities 4.
"""

import csv
import io
import itertools
from collections.abc import Iterable, Iterator, Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.compared import RepetitionComparison
from imu_rom.exchange.document import ExerciseAnswer
from imu_rom.exchange.fixed_decimals import NumberColumn, WordColumn, table_blocks
from imu_rom.exchange.result_layout import repetition_to_layout, set_to_layout
from imu_rom.session.result import AngleTrace

__all__ = [
    "ANGLE_COLUMNS",
    "EXERCISE_COLUMNS",
    "REPETITION_COLUMNS",
    "SET_COLUMNS",
    "angle_table",
    "angles_table",
    "repetition_table",
    "set_table",
    "under_way",
]

# stamps of an uneven rate (60 Hz) keep their order and their interval to a tenth of a millisecond
TIME_DECIMALS = 4
ANGLE_DECIMALS = 3
PROBABILITY_DECIMALS = 4

EXERCISE_COLUMNS = ("exercise", "side")
ANGLE_COLUMNS = ("time_s", "angle_deg", "standard_uncertainty_deg", "zero_standard_uncertainty_deg", "phase")

REPETITION_COLUMNS: tuple[str, ...] = (
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

SET_COLUMNS: tuple[str, ...] = (
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


def angles_table(answers: Sequence[ExerciseAnswer], traces: Sequence[AngleTrace]) -> Iterator[bytes]:
    """Table of the joint angle over time of a recording with several exercises, ``angle.csv``.

    Parameters
    ----------
    answers : sequence of ExerciseAnswer
        Exercises of a `ResultDocument`.
    traces : sequence of AngleTrace
        Their angles, on the same times.

    Returns
    -------
    iterator of bytes
        As `angle_table` where there is one exercise. Of several, each row has the angle of the exercise that was under
        way: from the end of the last set before it, or where leg or shoe changed from when the sensors were worn
        again, to the end of its last set; named in the columns of ``EXERCISE_COLUMNS`` at the end.
    """
    if len(answers) == 1:
        return angle_table(traces[0])
    time_s = traces[0].time_s
    whose = under_way(answers, time_s)
    names = tuple(dict.fromkeys(name for each in traces for name in each.phase_names))
    phase = np.zeros(len(time_s), dtype=np.int16)
    columns = {name: np.zeros(len(time_s)) for name in ANGLE_COLUMNS[1:4]}
    for number, trace in enumerate(traces):
        own = whose == number
        for name, values in columns.items():
            values[own] = getattr(trace, name)[own]
        phase[own] = np.array([names.index(each) for each in trace.phase_names], dtype=np.int16)[trace.phase[own]]
    table: list[NumberColumn | WordColumn] = [NumberColumn("time_s", time_s, TIME_DECIMALS)]
    table += [NumberColumn(name, values, ANGLE_DECIMALS) for name, values in columns.items()]
    table += [
        WordColumn("phase", phase, names),
        WordColumn("exercise", whose, tuple(each.exercise.name for each in answers)),
        WordColumn("side", whose, tuple(each.exercise.side for each in answers)),
    ]
    return table_blocks(table)


def under_way(answers: Sequence[ExerciseAnswer], time_s: NDArray[np.float64]) -> NDArray[np.int16]:
    """Tell which exercise was under way at each time.

    Parameters
    ----------
    answers : sequence of ExerciseAnswer
        Exercises of a `ResultDocument`.
    time_s : ndarray of shape (n,)
        Times.

    Returns
    -------
    ndarray of int of shape (n,)
        Number of the exercise, from 0; before the first set it is that of the first set.
    """
    every = sorted(
        (done.start_s, done.stop_s, number) for number, each in enumerate(answers) for done in each.comparison.sets
    )
    whose = np.full(len(time_s), every[0][2] if every else 0, dtype=np.int16)
    for (_, stop_s, before), (start_s, _, after) in itertools.pairwise(every):
        if before != after:
            worn_s = answers[after].worn_start_s
            whose[time_s > (worn_s if stop_s < worn_s < start_s else stop_s)] = after
    return whose
