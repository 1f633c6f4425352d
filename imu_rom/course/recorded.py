"""What a course needs of one session's result: little enough that hundreds of them are read in a moment."""

import hashlib
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np

from imu_rom.dose.exercise import UNWEIGHTED, Exercise
from imu_rom.dose.exposure import Exposure
from imu_rom.dose.follow_up import ZERO_ERRORS, Interval, RecordedRepetition, RecordedSet
from imu_rom.exchange.document import ExerciseAnswer, ResultDocument
from imu_rom.exchange.plain_values import plain, rounded
from imu_rom.recording.model import Gap, InputFile

__all__ = ["ExerciseSummary", "ResultSummary", "fingerprint", "measured_files", "result_summary"]

# files beside the samples; several recordings may have the same, and a list of times grows with each session
SIDECARS = (".json", "_channels.tsv", "_scans.tsv", "_events.tsv")
# what a later pose may be found to be without the zero being in doubt
ZERO_HOLDS = ("agrees", "compared")


@dataclass(frozen=True)
class ExerciseSummary:
    """One exercise of a result; sets and repetitions are those of `imu_rom.dose.follow_up`.

    Parameters
    ----------
    name, side : str
        Of the exercise.
    footwear : str or None
        As the plan declared it by which the session was analysed.
    heel_lift_mm, compression_threshold_deg, limit_deg : float or None
        As that plan said.
    prescription_sha256 : str
        Fingerprint of the whole exercise as that plan said it.
    sets : tuple of RecordedSet
        In time order.
    past_threshold_s, loaded_s, unloaded_s, outside_sets_s : Interval or None
        As `imu_rom.dose.follow_up.RecordedExercise` has them.
    u_shared_deg, u_set_deg : float
        Standard uncertainties of the angle.
    zero_doubtful : bool
        True where a later pose differed from the zero for good, or a sensor slipped.
    past_threshold_by_error_s : tuple of float or None
        As `imu_rom.dose.follow_up.RecordedExercise` has it; None also where a gap or a slip adds to the error.
    u_own_deg : float
        Standard uncertainty of a usual repetition's end range besides both others.
    """

    name: str
    side: str
    footwear: str | None
    heel_lift_mm: float | None
    compression_threshold_deg: float | None
    limit_deg: float | None
    prescription_sha256: str
    sets: tuple[RecordedSet, ...]
    past_threshold_s: Interval | None
    loaded_s: Interval | None
    unloaded_s: Interval | None
    outside_sets_s: Interval | None
    u_shared_deg: float
    u_set_deg: float
    zero_doubtful: bool
    past_threshold_by_error_s: tuple[float, ...] | None
    u_own_deg: float


@dataclass(frozen=True)
class ResultSummary:
    """One result, without what only its own page needs.

    Parameters
    ----------
    program_version : str
        Version that wrote it.
    patient, subject, task : str or None
        Of the plan and the recording.
    label : str
        Name of the recording.
    recorded_at : str or None
        RFC 3339 time of the first sample.
    duration_s : float
        Time covered.
    stage : str
        Stage that it was analysed under.
    settings_sha256 : str
        Fingerprint of all settings used, the plan's own uncertainty included.
    by_hand : bool
        True where a person corrected it by marks, or named the neutral pose or the time.
    inputs : tuple of InputFile
        What was read.
    exercises : tuple of ExerciseSummary
        One entry an exercise.
    """

    program_version: str
    patient: str | None
    subject: str | None
    task: str | None
    label: str
    recorded_at: str | None
    duration_s: float
    stage: str
    settings_sha256: str
    by_hand: bool
    inputs: tuple[InputFile, ...]
    exercises: tuple[ExerciseSummary, ...]


def fingerprint(value: object) -> str:
    """Fingerprint of plain values.

    Parameters
    ----------
    value : object
        What `imu_rom.exchange.plain_values.plain` can turn into plain values.

    Returns
    -------
    str
        SHA-256 in hexadecimal digits; alike for values that are equal.
    """
    text = json.dumps(plain(value), sort_keys=True, ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()


def measured_files(inputs: Sequence[InputFile]) -> frozenset[str]:
    """Tell which files hold samples, apart from those beside them.

    Parameters
    ----------
    inputs : sequence of InputFile
        What was read.

    Returns
    -------
    frozenset of str
        Their SHA-256.
    """
    return frozenset(each.sha256 for each in inputs if each.role == "recording" and not each.name.endswith(SIDECARS))


def result_summary(document: ResultDocument) -> ResultSummary:
    """Take from a result what a course needs.

    Parameters
    ----------
    document : ResultDocument
        As read or made.

    Returns
    -------
    ResultSummary
        The rest is left out.
    """
    recording = document.recording
    return ResultSummary(
        program_version=document.program_version,
        patient=document.patient,
        subject=recording.subject or document.bids_subject,
        task=recording.task,
        label=recording.label,
        recorded_at=recording.recorded_at,
        duration_s=recording.duration_s,
        stage=document.stage,
        settings_sha256=fingerprint(document.settings),
        by_hand=bool(document.marks)
        or recording.recorded_at_source == "option"
        or any(each.zero.source == "given" for each in document.exercises),
        inputs=document.inputs,
        exercises=tuple(_exercise_summary(each, recording.gaps) for each in document.exercises),
    )


def _exercise_summary(answer: ExerciseAnswer, gaps: Sequence[Gap]) -> ExerciseSummary:
    exercise, done = answer.exercise, answer.comparison
    threshold = exercise.compression_threshold
    past, loaded, unloaded = _exposure_intervals(exercise, done.exposure)
    outside = None
    if None not in {done.outside_sets_s, done.outside_sets_low_s, done.outside_sets_high_s}:
        outside = Interval(done.outside_sets_s, done.outside_sets_low_s, done.outside_sets_high_s)  # type: ignore[arg-type]
    return ExerciseSummary(
        name=exercise.name,
        side=exercise.side,
        footwear=exercise.footwear,
        heel_lift_mm=exercise.heel_lift_mm,
        compression_threshold_deg=None if threshold is None else threshold.deg,
        limit_deg=exercise.limit_deg,
        prescription_sha256=fingerprint(exercise),
        sets=tuple(
            RecordedSet(
                tuple(
                    RecordedRepetition(
                        complete=one.repetition.complete,
                        end_range_deg=one.repetition.end_range_deg,
                        eccentric_s=one.repetition.eccentric_s,
                        hold_s=one.repetition.hold_s,
                        concentric_s=one.repetition.concentric_s,
                        reached=one.reached,
                        within_limit=one.within_limit,
                    )
                    for one in each.repetitions
                ),
                each.verdict,
            )
            for each in done.sets
        ),
        past_threshold_s=past,
        loaded_s=loaded,
        unloaded_s=unloaded,
        outside_sets_s=outside,
        u_shared_deg=answer.u_shared_deg,
        u_set_deg=answer.u_set_deg,
        zero_doubtful=bool(answer.slips) or any(each.use not in ZERO_HOLDS for each in answer.later_poses),
        past_threshold_by_error_s=_past_threshold_by_error_s(answer, gaps),
        u_own_deg=median([one.repetition.end_range_uncertainty_deg for each in done.sets for one in each.repetitions])
        if any(each.repetitions for each in done.sets)
        else 0.0,
    )


def _past_threshold_by_error_s(answer: ExerciseAnswer, gaps: Sequence[Gap]) -> tuple[float, ...] | None:
    """Read the time past the compressive angle off the repetitions' exposure curves, moved by each error."""
    done, threshold = answer.comparison, answer.exercise.compression_threshold
    # time without data, and what a slip adds to the zero's error, is in the interval alone
    unseen = any(gap.start_s < each.stop_s and gap.stop_s > each.start_s for gap in gaps for each in done.sets)
    if threshold is None or done.exposure is None or unseen or answer.slips:
        return None
    constant, growth = (
        tuple(of(shared_by) for shared_by in ("session", "set"))
        for of in (answer.budget.constant_deg, answer.budget.share)
    )
    u_deg = math.hypot(*constant, *(each * threshold.deg for each in growth))
    levels_deg = threshold.deg - np.array(ZERO_ERRORS) * u_deg
    time_s = np.zeros(len(ZERO_ERRORS))
    for each in done.sets:
        for one in each.repetitions:
            time_s += one.curve.time_past(levels_deg)
    return tuple(rounded(float(each), "time_s") for each in time_s)


def _exposure_intervals(
    exercise: Exercise, exposure: Exposure | None
) -> tuple[Interval | None, Interval | None, Interval | None]:
    """Give the intervals of the time past the compressive angle: all of it, its loaded and its unloaded part.

    Each part only grows with the angle's shift, as all of it does, so no part grows by more than all: that bounds the
    parts' intervals, which the result does not hold. Where all phases are declared alike, the bound is exact.
    """
    if exposure is None:
        return None, None, None
    past = Interval(exposure.past_threshold_s, exposure.past_threshold_low_s, exposure.past_threshold_high_s)
    phases = [each for each in (exercise.load.eccentric, exercise.load.concentric) if each is not None]
    parts: list[Interval | None] = []
    for value, can_be in (
        (exposure.loaded_s, any(each not in UNWEIGHTED for each in phases)),
        (exposure.unloaded_s, any(each in UNWEIGHTED for each in phases)),
    ):
        if value is None:
            parts.append(None)
        elif not can_be:
            parts.append(Interval(value, value, value))
        elif value == past.value:
            # all of it: the same number, not one a rounding away
            parts.append(past)
        else:
            low = max(0.0, value - (past.value - past.low))
            parts.append(Interval(value, low, value + (past.high - past.value)))
    return past, parts[0], parts[1]
