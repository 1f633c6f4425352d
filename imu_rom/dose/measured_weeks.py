"""What was measured over some days: exposure, end range, tempo and holds of each exercise, and left against right."""

import math
from collections.abc import Iterable, Sequence
from typing import Literal, TypeVar

import numpy as np

from imu_rom.dose.course_days import Key, key_of
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.exposure_answer import (
    AskedAngles,
    ExposureSum,
    MeasuredWeek,
    PhaseTime,
    PrescribedTime,
    SideDifference,
)
from imu_rom.dose.exposure_sum import exposure_sum, together
from imu_rom.dose.follow_up import Interval, RecordedExercise, RecordedRepetition
from imu_rom.dose.prescription import prescribed_time_per_set
from imu_rom.motion.small_samples import NORMAL_FACTOR

__all__ = ["complete_repetitions", "end_range_deg", "likeness", "measured_over", "side_differences", "u_end_range_deg"]

Value = TypeVar("Value")
Phase = Literal["eccentric", "hold", "concentric"]
PHASES: tuple[Phase, ...] = ("eccentric", "hold", "concentric")
EXPOSURES = ("past_threshold_s", "loaded_s", "unloaded_s", "outside_sets_s")


def complete_repetitions(recorded: Iterable[RecordedExercise]) -> list[RecordedRepetition]:
    """List all complete repetitions.

    Parameters
    ----------
    recorded : iterable of RecordedExercise
        Of one exercise.

    Returns
    -------
    list of RecordedRepetition
        In order.
    """
    return [each for one in recorded for part in one.sets for each in part.repetitions if each.complete]


def end_range_deg(recorded: Iterable[RecordedExercise], share: float = 0.5) -> float | None:
    """Give the median of the end ranges, or another quantile.

    Parameters
    ----------
    recorded : iterable of RecordedExercise
        Of one exercise.
    share : float
        Which quantile.

    Returns
    -------
    float or None
        Over complete repetitions, in degrees; None where there are none, or no angle is known.
    """
    depths = [
        each.end_range_deg for each in complete_repetitions(one for one in recorded if one.exercise.angle_is_known)
    ]
    return float(np.quantile(depths, share)) if depths else None


def u_end_range_deg(recorded: Sequence[RecordedExercise]) -> float:
    """Give the standard uncertainty of a median over sessions, each with its own zero.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        Of one exercise, at least one.

    Returns
    -------
    float
        In degrees: the sessions' own in quadrature, over their number. A habit in taking up the neutral pose, the same
        each time, does not shrink so and is not in it.
    """
    return math.sqrt(math.fsum(_variance(each) for each in recorded)) / len(recorded)


def _variance(recorded: RecordedExercise) -> float:
    return recorded.u_shared_deg**2 + recorded.u_set_deg**2 / max(len(recorded.sets), 1)


def measured_over(recorded: Sequence[RecordedExercise]) -> tuple[MeasuredWeek, ...]:
    """Sum up what was recorded on some days.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        In time order.

    Returns
    -------
    tuple of MeasuredWeek
        One for each exercise and side, and one for each side, joint and motion that several exercises share.
    """
    by_key: dict[Key, list[RecordedExercise]] = {}
    by_side: dict[tuple[str, str, str], list[RecordedExercise]] = {}
    for each in recorded:
        by_key.setdefault(key_of(each.exercise), []).append(each)
        by_side.setdefault((each.exercise.side, each.exercise.joint, each.exercise.motion), []).append(each)
    several = [each for each in by_side.values() if len({key_of(one.exercise) for one in each}) > 1]
    return (
        *(_measured(each, key[0]) for key, each in by_key.items()),
        *(_measured(each, None) for each in several),
    )


def _measured(recorded: Sequence[RecordedExercise], name: str | None) -> MeasuredWeek:
    sums = [_exposure(recorded, each) for each in EXPOSURES]
    sessions = {each.session for each in recorded}
    with_exposure = {each.session for each in recorded if each.past_threshold_s is not None}
    return MeasuredWeek(
        exercise=name,
        side=recorded[0].exercise.side,
        days=tuple(sorted({each.day for each in recorded})),
        sessions=len(sessions),
        sessions_zero_doubtful=len({each.session for each in recorded if each.zero_doubtful}),
        past_threshold=sums[0],
        loaded=sums[1],
        unloaded=sums[2],
        outside_sets=sums[3],
        past_threshold_prescribed=None if name is None else _prescribed(recorded, sums[0]),
        sessions_without_exposure=len(sessions - with_exposure),
        end_range_median_deg=None if name is None else _end_range(recorded, 0.5),
        end_range_95th_deg=None if name is None else _end_range(recorded, 0.95),
        phases=() if name is None else _phases(recorded),
        asked=_asked_angles([each.exercise for each in recorded]),
    )


def _asked_angles(exercises: Sequence[Exercise]) -> AskedAngles:
    low, high = _alike(each.end_range_deg for each in exercises) or (None, None)
    threshold = _alike(each.compression_threshold for each in exercises)
    return AskedAngles(
        window_low_deg=low,
        window_high_deg=None if high is None or math.isinf(high) else high,
        limit_deg=_alike(each.limit_deg for each in exercises),
        threshold_deg=None if threshold is None else threshold.deg,
    )


def _alike(values: Iterable[Value]) -> Value | None:
    different = set(values)
    return different.pop() if len(different) == 1 else None


def _prescribed(recorded: Sequence[RecordedExercise], found: ExposureSum | None) -> PrescribedTime | None:
    """Compare the sum with what the plan asks of as many sessions, each asked once however many runs it has."""
    asked = [
        (each.exercise.sets, prescribed_time_per_set(each.exercise))
        for each in {each.session: each for each in recorded}.values()
    ]
    if found is None or any(time is None for _, time in asked):
        return None
    times = [(sets * time[0], sets * time[1], time[2]) for sets, time in asked if time is not None]
    low_s, high_s = math.fsum(each[0] for each in times), math.fsum(each[1] for each in times)
    sum_s = found.sum_s
    answer: Literal["as prescribed", "less", "more", "undecided"] = "undecided"
    if sum_s.high < low_s:
        answer = "less"
    elif sum_s.low > high_s:
        answer = "more"
    elif low_s <= sum_s.low and sum_s.high <= high_s:
        answer = "as prescribed"
    return PrescribedTime(low_s, high_s, any(each[2] for each in times), answer)


def _exposure(recorded: Sequence[RecordedExercise], name: str) -> ExposureSum | None:
    by_session: dict[str, list[Interval]] = {}
    rows: dict[str, list[tuple[float, ...] | None]] = {}
    for each in recorded:
        found: Interval | None = getattr(each, name)
        if found is not None:
            by_session.setdefault(each.session, []).append(found)
            # only of all the time past the angle is it known how it goes with the error
            whole = name == "past_threshold_s" or found == each.past_threshold_s
            rows.setdefault(each.session, []).append(each.past_threshold_by_error_s if whole else None)
    return exposure_sum(
        [together(each) for each in by_session.values()], [_row_together(rows[session]) for session in by_session]
    )


def _row_together(rows: Sequence[tuple[float, ...] | None]) -> list[float] | None:
    known = [each for each in rows if each is not None]
    return [math.fsum(each) for each in zip(*known, strict=True)] if len(known) == len(rows) else None


def _end_range(recorded: Sequence[RecordedExercise], share: float) -> Interval | None:
    found = end_range_deg(recorded, share)
    return None if found is None else _around(found, u_end_range_deg(recorded))


def _around(value: float, u: float) -> Interval:
    return Interval(value, value - NORMAL_FACTOR * u, value + NORMAL_FACTOR * u)


def _phases(recorded: Sequence[RecordedExercise]) -> tuple[PhaseTime, ...]:
    complete = complete_repetitions(recorded)
    if not complete:
        return ()
    latest = recorded[-1].exercise
    tempo = latest.tempo
    asked = (tempo.eccentric_s, tempo.end_range_hold_s, tempo.concentric_s)
    # a way back that was not seen has no time
    back_s = [each.concentric_s for each in complete if each.concentric_s is not None]
    times_s = ([each.eccentric_s for each in complete], [each.hold_s for each in complete], back_s)
    found = []
    for phase, values, asked_s in zip(PHASES, times_s, asked, strict=True):
        if values:
            lower, median, upper = np.quantile(values, (0.25, 0.5, 0.75)).tolist()
            found.append(PhaseTime(phase, median, lower, upper, asked_s))
    return tuple(found)


def likeness(exercise: Exercise) -> tuple[object, ...]:
    """Tell what two sides must have in common to be compared.

    Parameters
    ----------
    exercise : Exercise
        Of one side.

    Returns
    -------
    tuple
        Equal for the same movement, posture, load and way to end a repetition.
    """
    return (
        exercise.joint,
        exercise.motion,
        exercise.kind,
        exercise.knee,
        exercise.surface,
        exercise.step_height_mm,
        exercise.end_range,
        exercise.share_of_own_range or exercise.end_range_deg,
        exercise.load,
        exercise.footwear,
        exercise.heel_lift_mm,
    )


def side_differences(recorded: Sequence[RecordedExercise]) -> tuple[SideDifference, ...]:
    """Compare left with right where both were recorded.

    Parameters
    ----------
    recorded : sequence of RecordedExercise
        Of some days, in time order.

    Returns
    -------
    tuple of SideDifference
        One for each pair of exercises that are alike but for the side.
    """
    by_likeness: dict[tuple[object, ...], dict[str, dict[str, list[RecordedExercise]]]] = {}
    for each in recorded:
        sides = by_likeness.setdefault(likeness(each.exercise), {"left": {}, "right": {}})
        sides[each.exercise.side].setdefault(each.exercise.name, []).append(each)
    return tuple(
        _difference(left, right)
        for sides in by_likeness.values()
        for (_, left), (_, right) in zip(sorted(sides["left"].items()), sorted(sides["right"].items()), strict=False)
    )


def _difference(left: Sequence[RecordedExercise], right: Sequence[RecordedExercise]) -> SideDifference:
    days = sorted(each.day for each in (*left, *right))
    return SideDifference(
        left_exercise=left[0].exercise.name,
        right_exercise=right[0].exercise.name,
        from_day=days[0],
        to_day=days[-1],
        left_sessions=len({each.session for each in left}),
        right_sessions=len({each.session for each in right}),
        end_range_deg=_end_range_difference(left, right),
        past_threshold_s=_exposure_difference(left, right),
        eccentric_s=_phase_difference(left, right, 0),
        hold_s=_phase_difference(left, right, 1),
    )


def _end_range_difference(left: Sequence[RecordedExercise], right: Sequence[RecordedExercise]) -> Interval | None:
    found = end_range_deg(left), end_range_deg(right)
    if found[0] is None or found[1] is None:
        return None
    # a habit in taking up the pose is the same in all sessions of a side: the mean of their variances, not less
    u = math.sqrt(sum(math.fsum(_variance(each) for each in side) / len(side) for side in (left, right)))
    return _around(found[0] - found[1], u)


def _exposure_difference(left: Sequence[RecordedExercise], right: Sequence[RecordedExercise]) -> Interval | None:
    sums = _exposure(left, "past_threshold_s"), _exposure(right, "past_threshold_s")
    if sums[0] is None or sums[1] is None:
        return None
    counts = [len({each.session for each in side if each.past_threshold_s is not None}) for side in (left, right)]
    one, other = (
        Interval(each.sum_s.value / count, each.sum_s.low / count, each.sum_s.high / count)
        for each, count in zip(sums, counts, strict=True)
        if each is not None
    )
    value = one.value - other.value
    # independent errors of the two sides, each as wide as it is in its direction
    below = math.hypot(one.value - one.low, other.high - other.value)
    above = math.hypot(one.high - one.value, other.value - other.low)
    return Interval(value, value - below, value + above)


def _phase_difference(left: Sequence[RecordedExercise], right: Sequence[RecordedExercise], i: int) -> float | None:
    phases = _phases(left), _phases(right)
    return phases[0][i].median_s - phases[1][i].median_s if all(phases) else None
