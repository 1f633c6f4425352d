"""A session's angle held against another measurement of the same joint: differences, verdicts, coverage, lag.

The reference is never used for the answer. Its zero and the session's are two zeros: what they differ by in the
neutral pose is said apart, since it is what the stated uncertainty of the zero is about.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.agreement import Agreement, agreement
from imu_rom.dose.angle_path import angle_path, sustained_level
from imu_rom.dose.compared import RepetitionComparison, SetComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.exposure import COVERAGE_FACTOR, time_past
from imu_rom.errors import CannotAnswerError
from imu_rom.motion.end_range import estimate_end_range
from imu_rom.recording.model import ReferenceChannel
from imu_rom.session.reference_result import Lag, ReferenceComparison, ReferenceRepetition, ReferenceSet
from imu_rom.session.result import ExerciseResult, SessionResult

__all__ = ["compare_with_reference", "find_lag"]

Floats = NDArray[np.float64]

LEAST_COMMON_S = 10.0
"""Less time in which both are known can't tell a lag; common practice, no source."""
LEAST_CORRELATION = 0.8
"""A lag is believed only where both then are alike: repetitions resemble each other; common practice, no source."""
PASSED_FOR_S = 0.2


def _shifted(values: Floats, samples: float) -> Floats:
    """Read values so many samples later, straight between neighbours; NaN where one of both is."""
    at = np.arange(len(values)) + samples
    whole = np.floor(at).astype(np.intp)
    part = at - whole
    inside = (whole >= 0) & (whole < len(values) - 1)
    moved = np.full(len(values), np.nan)
    first = whole[inside]
    # a whole number of samples needs no neighbour, which may be unknown
    after = np.where(part[inside] == 0.0, first, first + 1)
    moved[inside] = values[first] * (1.0 - part[inside]) + values[after] * part[inside]
    if samples == int(samples):
        last = (whole == len(values) - 1) & (part == 0.0)
        moved[last] = values[-1]
    return moved


def find_lag(angle_deg: Floats, reference_deg: Floats, rate_hz: float, largest_s: float) -> float:
    """Find how much later the reference shows the same.

    Parameters
    ----------
    angle_deg, reference_deg : ndarray of shape (n,)
        Both on one time base; NaN where unknown.
    rate_hz : float
        Its rate.
    largest_s : float
        Lags up to this are tried, both ways.

    Returns
    -------
    float
        Seconds; where the variance of the difference is least, by a parabola through the three least. The zero of
        either does not matter to it.

    Raises
    ------
    CannotAnswerError
        Both are known together for less than 10 s, or the least lies at the end of what was tried.
    """
    reach = round(largest_s * rate_hz)
    variances = np.full(2 * reach + 1, np.inf)
    for index, samples in enumerate(range(-reach, reach + 1)):
        difference = angle_deg - _shifted(reference_deg, float(samples))
        known = difference[np.isfinite(difference)]
        if len(known) >= LEAST_COMMON_S * rate_hz:
            variances[index] = known.var()
    best = int(np.argmin(variances))
    if not np.isfinite(variances[best]):
        raise CannotAnswerError(
            f"angle and reference are known together for less than {LEAST_COMMON_S:g} s",
            do="take a reference that covers the sets, with its times from the recording's start",
        )
    if reach and best in {0, 2 * reach}:
        raise CannotAnswerError(
            f"the reference lies further off than the {largest_s:g} s that were tried",
            do="give its lag by --lag, or let more be tried by --largest-lag",
        )
    if not reach or not np.isfinite(variances[best - 1 : best + 2]).all():
        return (best - reach) / rate_hz
    before, least, after = variances[best - 1 : best + 2]
    bend = before - 2.0 * least + after
    return float(best - reach + (0.0 if bend <= 0.0 else 0.5 * (before - after) / bend)) / rate_hz


def compare_with_reference(
    session: SessionResult,
    reference: ReferenceChannel,
    *,
    lag_s: float | None = None,
    largest_lag_s: float = 2.0,
    turned: bool = False,
) -> tuple[ReferenceComparison, ...]:
    """Hold a session's angles against a reference.

    Parameters
    ----------
    session : SessionResult
        As analysed, without the reference.
    reference : ReferenceChannel
        Joint angle on the recording's time base, about a zero of its own, positive in the exercise's motion.
    lag_s : float, optional
        How much later it shows the same; None: found.
    largest_lag_s : float
        Lags up to this are tried.
    turned : bool
        True: it counts the other way, and is turned.

    Returns
    -------
    tuple of ReferenceComparison
        One an exercise that has sets and a known angle.

    Raises
    ------
    CannotAnswerError
        No exercise has them; the reference has another number of samples, is known for too short, or counts the other
        way.
    """
    values = -reference.values_deg if turned else reference.values_deg
    if len(values) != session.recording.sample_count:
        raise CannotAnswerError(
            f"the reference must have the recording's {session.recording.sample_count} samples, got {len(values)}",
            where=reference.name,
        )
    asked = [each for each in session.exercises if each.exercise.angle_is_known and each.comparison.sets]
    if not asked:
        raise CannotAnswerError("no exercise of the session has sets with a known angle to compare")
    return tuple(_compared(each, session, reference.name, values, lag_s, largest_lag_s) for each in asked)


def _compared(
    result: ExerciseResult,
    session: SessionResult,
    channel: str,
    values: Floats,
    lag_s: float | None,
    largest_lag_s: float,
) -> ReferenceComparison:
    exercise, trace, rate_hz = result.exercise, result.trace, session.recording.rate_hz
    worn = (trace.time_s >= result.worn_start_s) & (trace.time_s <= result.worn_stop_s)
    angle_deg = np.where(worn, trace.angle_deg, np.nan)
    for gap in session.recording.gaps:
        if gap.tracked_point in {exercise.proximal, exercise.distal}:
            angle_deg[(trace.time_s > gap.start_s) & (trace.time_s < gap.stop_s)] = np.nan
    found_s = find_lag(angle_deg, values, rate_hz, largest_lag_s) if lag_s is None else lag_s
    moved = _shifted(values, found_s * rate_hz)
    in_sets = np.zeros(len(moved), dtype=bool)
    for each in result.comparison.sets:
        in_sets |= (trace.time_s >= each.start_s) & (trace.time_s <= each.stop_s)
    difference = np.where(in_sets, angle_deg - moved, np.nan)
    known = np.isfinite(difference)
    if known.sum() < LEAST_COMMON_S * rate_hz:
        raise CannotAnswerError(
            f"the reference is known for less than {LEAST_COMMON_S:g} s of the sets of {exercise.name}",
            where=channel,
            do="take a reference that covers the sets",
        )
    correlation = float(np.corrcoef(angle_deg[known], moved[known])[0, 1])
    if correlation < 0.0:
        raise CannotAnswerError(
            f"falls where the angle of {exercise.name} rises (correlation {correlation:.2f})",
            where=channel,
            do=f"give --turned if it counts against {exercise.motion}, or check that it is of this joint",
        )
    if lag_s is None and correlation < LEAST_CORRELATION:
        raise CannotAnswerError(
            f"is too unlike the angle of {exercise.name} for its lag to be found (correlation {correlation:.2f}, "
            f"needed {LEAST_CORRELATION:g})",
            where=channel,
            do="give its lag by --lag, let more be tried by --largest-lag, or check that it is of this joint",
        )
    repetitions, sets, left_out = _by_repetition(result, moved, rate_hz)
    error = difference[known]
    covered = np.abs(error) <= COVERAGE_FACTOR * trace.standard_uncertainty_deg[known]
    pose = moved[(trace.time_s >= result.zero.start_s) & (trace.time_s <= result.zero.stop_s)]
    pose = pose[np.isfinite(pose)]
    complete = [each for each in repetitions if each.complete]
    return ReferenceComparison(
        exercise=exercise.name,
        side=exercise.side,
        channel=channel,
        lag=Lag(found_s, "found" if lag_s is None else "given", correlation),
        compared_s=float(known.sum()) / rate_hz,
        root_mean_square_deg=float(np.sqrt(np.mean(error * error))),
        bias_deg=float(error.mean()),
        spread_deg=float(error.std()),
        zero_difference_deg=float(pose.mean()) - result.zero.pose_deg if len(pose) else None,
        samples_covered=float(covered.mean()),
        end_ranges_covered=_share(
            [each.end_range_low_deg <= each.reference_end_range_deg <= each.end_range_high_deg for each in complete]
        ),
        times_covered=_share(
            [
                each.past_threshold_low_s <= each.reference_past_threshold_s <= each.past_threshold_high_s
                for each in sets
            ]
        ),
        end_range=_agreement([each.end_range_deg - each.reference_end_range_deg for each in complete]),
        time_past=_agreement(
            [
                each.past_threshold_s - each.reference_past_threshold_s
                for each in complete
                if each.past_threshold_s is not None and each.reference_past_threshold_s is not None
            ]
        ),
        repetitions=tuple(repetitions),
        sets=tuple(sets),
        left_out=left_out,
    )


def _share(held: Sequence[bool]) -> float | None:
    return sum(held) / len(held) if held else None


def _agreement(differences: Sequence[float]) -> Agreement | None:
    return agreement(differences) if len(differences) > 1 else None


def _by_repetition(
    result: ExerciseResult, moved: Floats, rate_hz: float
) -> tuple[list[ReferenceRepetition], list[ReferenceSet], int]:
    repetitions: list[ReferenceRepetition] = []
    sets: list[ReferenceSet] = []
    left_out = 0
    for done in result.comparison.sets:
        known = [_repetition(result.exercise, done.number, each, moved, rate_hz) for each in done.repetitions]
        kept = [each for each in known if each is not None]
        repetitions += kept
        left_out += len(known) - len(kept)
        if len(kept) == len(known):
            sets += _set(done, kept)
    return repetitions, sets, left_out


def _set(done: SetComparison, repetitions: Sequence[ReferenceRepetition]) -> list[ReferenceSet]:
    times = [each.reference_past_threshold_s for each in repetitions]
    if done.exposure is None:
        return []
    return [
        ReferenceSet(
            set=done.number,
            past_threshold_s=done.exposure.past_threshold_s,
            past_threshold_low_s=done.exposure.past_threshold_low_s,
            past_threshold_high_s=done.exposure.past_threshold_high_s,
            reference_past_threshold_s=sum(each for each in times if each is not None),
        )
    ]


def _repetition(
    exercise: Exercise, number: int, done: RepetitionComparison, moved: Floats, rate_hz: float
) -> ReferenceRepetition | None:
    start, stop = round(done.repetition.start_s * rate_hz), round(done.repetition.stop_s * rate_hz) + 1
    within = moved[start:stop]
    if len(within) < 3 or not np.isfinite(within).all():
        return None
    peak = int(np.argmax(within))
    deepest = estimate_end_range(within, within, peak, max(float(np.ptp(within)), 1e-6), rate_hz)
    path = angle_path(rate_hz, within)
    held = exercise.tempo.end_range_hold_s and deepest.held_deg is not None
    depth_deg = deepest.held_deg if held and deepest.held_deg is not None else deepest.angle_deg
    threshold, exposure = exercise.compression_threshold, done.exposure
    return ReferenceRepetition(
        set=number,
        repetition=done.number,
        complete=done.repetition.complete,
        end_range_deg=done.repetition.end_range_deg,
        end_range_low_deg=done.end_range_low_deg,
        end_range_high_deg=done.end_range_high_deg,
        reference_end_range_deg=deepest.angle_deg,
        past_threshold_s=None if exposure is None else exposure.past_threshold_s,
        past_threshold_low_s=None if exposure is None else exposure.past_threshold_low_s,
        past_threshold_high_s=None if exposure is None else exposure.past_threshold_high_s,
        reference_past_threshold_s=None if threshold is None else time_past(path, threshold.deg),
        reached=done.reached,
        reference_reached=None if exercise.end_range_deg is None else bool(depth_deg >= exercise.end_range_deg[0]),
        within_limit=done.within_limit,
        reference_within_limit=None
        if exercise.limit_deg is None
        else bool(sustained_level(path, PASSED_FOR_S) <= exercise.limit_deg),
    )
