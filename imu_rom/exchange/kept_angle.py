"""The joint angle over time as a result's folder keeps it: read from ``angle.csv``, or as it would be read from there.

A page made from the folder is then the same, byte by byte, as the page that the analysis writes into it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from imu_rom.errors import ResultError
from imu_rom.exchange.angle_file import read_angle_file
from imu_rom.exchange.document import ExerciseAnswer, ResultDocument
from imu_rom.exchange.result import read_result
from imu_rom.exchange.tables import ANGLE_DECIMALS, TIME_DECIMALS, under_way
from imu_rom.session.result import AngleTrace

__all__ = ["ResultFolder", "kept_traces", "read_result_folder"]

Floats = NDArray[np.float64]
RESULT, ANGLE = "result.json", "angle.csv"
BETWEEN = "between"
ELSEWHERE = "elsewhere"
"""Phase of the samples at which another exercise was under way; the file holds no angle of this one there."""


@dataclass(frozen=True)
class ResultFolder:
    """What the folder of one session holds.

    Parameters
    ----------
    document : ResultDocument
        Its ``result.json``.
    traces : tuple of AngleTrace
        The angle over time of each exercise; NaN while another one was under way.
    files : tuple of Path
        What was read.
    """

    document: ResultDocument
    traces: tuple[AngleTrace, ...]
    files: tuple[Path, ...]


def read_result_folder(folder: Path) -> ResultFolder:
    """Read the folder that an analysis wrote.

    Parameters
    ----------
    folder : Path
        With ``result.json`` and ``angle.csv`` in it.

    Returns
    -------
    ResultFolder
        Result and angle.

    Raises
    ------
    ResultError
        One of the files is missing, damaged, or belongs to another recording.
    """
    document = read_result(folder / RESULT)
    if not (folder / ANGLE).is_file():
        raise ResultError(
            f"is missing, and {RESULT} alone holds no angle over time",
            where=str(folder / ANGLE),
            do="put it back or analyse the recording again",
        )
    file = read_angle_file(folder / ANGLE, document)
    traces = tuple(_own(answer, file.trace, file.part == number) for number, answer in enumerate(document.exercises))
    return ResultFolder(document, traces, (folder / RESULT, folder / ANGLE))


def kept_traces(answers: Sequence[ExerciseAnswer], traces: Sequence[AngleTrace]) -> tuple[AngleTrace, ...]:
    """Round the angle over time, and cut it to what ``angle.csv`` keeps.

    Parameters
    ----------
    answers : sequence of ExerciseAnswer
        Exercises of a `ResultDocument`.
    traces : sequence of AngleTrace
        Their angles as analysed, on the same times.

    Returns
    -------
    tuple of AngleTrace
        What `read_result_folder` gives back of them.
    """
    if not traces:
        return ()
    whose = under_way(answers, traces[0].time_s)
    return tuple(
        _own(answer, trace, whose == number) for number, (answer, trace) in enumerate(zip(answers, traces, strict=True))
    )


def _own(answer: ExerciseAnswer, trace: AngleTrace, own: NDArray[np.bool_]) -> AngleTrace:
    """Keep an exercise's own samples, with its phases in their usual order.

    Reading may leave a number beside its decimal by a last bit, so that rounding is for both.
    """
    names = ("setup", "neutral", "calibration", BETWEEN, *(f"set {each.number}" for each in answer.comparison.sets))
    at = {name: index for index, name in enumerate(names)}
    usual = np.array([at.get(name, at[BETWEEN]) for name in trace.phase_names], dtype=np.int16)
    phase = np.where(own, usual[trace.phase], np.int16(len(names))).astype(np.int16)

    def kept(values: Floats) -> Floats:
        return np.where(own, np.round(values, ANGLE_DECIMALS) + 0.0, np.nan)

    return AngleTrace(
        time_s=np.round(trace.time_s, TIME_DECIMALS) + 0.0,
        angle_deg=kept(trace.angle_deg),
        standard_uncertainty_deg=kept(trace.standard_uncertainty_deg),
        zero_standard_uncertainty_deg=kept(trace.zero_standard_uncertainty_deg),
        phase=phase,
        phase_names=(*names, ELSEWHERE),
    )
