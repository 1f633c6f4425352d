"""Figures of accuracy on simulated sessions with known truth: what is analysed and counted.

Accuracy is judged with the session's zero shift (how far off the true zero the person stood in the neutral pose)
removed: what the analysis can't know it can't be blamed for. Coverage is judged with it in: that is what the intervals
are for.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from session_rows import SHORT_OF_END_RANGE_DEG, Row, exercise_for, plan_of, routine_of, through_a_file

from imu_rom.dose.comparison import SetComparison, compare_session
from imu_rom.dose.exercise import Exercise
from imu_rom.errors import ImuRomError
from imu_rom.motion.repetitions import Repetition, RepetitionSet
from imu_rom.motion.uncertainty import angle_budget
from imu_rom.session import analyse
from imu_rom.session.result import ExerciseResult
from imu_rom.settings import Settings
from imu_rom.simulation import (
    AngleErrors,
    Routine,
    SimulatedSession,
    TrueRepetition,
    TrueSet,
    angle_error_model,
    simulate_session,
)

__all__ = ["END_RANGE_WITHIN_DEG", "SessionFigures", "measure", "model_covered"]

END_RANGE_WITHIN_DEG = 1.3
TIME_WITHIN_SHARE, TIME_WITHIN_S = 0.05, 1.0
WRONG_ZERO_DEG = 3.0


@dataclass(frozen=True)
class SessionFigures:
    """Figures of one session, or why it was refused.

    Parameters
    ----------
    seed : int
        Of the simulation.
    refusal : str
        The error's sentence; empty where the session was answered.
    sets_exact : tuple of bool
        Per true set: found as one set with as many complete repetitions as were done.
    total_exact : bool
        Complete repetitions in all.
    partial_done, partial_found : int
        Partial repetitions in all.
    invented_sets : int
        Sets found where none was done.
    rmse_deg : float
        Angle within the sets.
    end_range_errors_deg : tuple of float
        Per repetition that was done and found, zero shift removed.
    hold_errors_deg : tuple of tuple of float
        Per repetition with a hold: error of the held angle and of the end range.
    time_errors : tuple of float
        Per set: error of the time past the threshold over what is allowed; within -1 to 1 is good.
    covered : bool
        The session's interval of the time past the plan's threshold holds the true time, zero shift in.
    phase_errors_s : tuple of tuple of float
        Per repetition: hold, eccentric and concentric time.
    answers, wrong_answers : int
        Repetitions answered by yes or no, and those where the truth is the other one.
    zero_off_deg : float
        How far off the truth's neutral pose the angle taken for zero is; the farther of what was done in that stretch
        and what the sets are off by.
    sign_is_wrong : bool
        The angle goes the other way.
    """

    seed: int
    refusal: str = ""
    sets_exact: tuple[bool, ...] = ()
    total_exact: bool = False
    partial_done: int = 0
    partial_found: int = 0
    invented_sets: int = 0
    rmse_deg: float = math.nan
    end_range_errors_deg: tuple[float, ...] = ()
    hold_errors_deg: tuple[tuple[float, float], ...] = ()
    time_errors: tuple[float, ...] = ()
    covered: bool = False
    phase_errors_s: tuple[tuple[float, float, float], ...] = ()
    answers: int = 0
    wrong_answers: int = 0
    zero_off_deg: float = 0.0
    sign_is_wrong: bool = False

    @property
    def zero_is_wrong(self) -> bool:
        """True where something else than the neutral pose became zero and nobody was told."""
        return abs(self.zero_off_deg) > WRONG_ZERO_DEG


def measure(row: Row, seed: int) -> SessionFigures:
    """Simulate and analyse one session, and take its figures.

    Parameters
    ----------
    row : Row
        Which kind of session.
    seed : int
        Of the simulation.

    Returns
    -------
    SessionFigures
        Its figures.
    """
    routine, person = routine_of(row)
    session = simulate_session(seed, routine, person, rate_hz=row.rate_hz)
    recording = through_a_file(session.recording, routine) if row.written else session.recording
    exercise = exercise_for(routine)
    try:
        result = analyse(recording, plan_of(exercise))
    except ImuRomError as error:
        return SessionFigures(seed, refusal=error.what)
    return figures(seed, session, exercise, result.exercises[0])


def figures(seed: int, session: SimulatedSession, exercise: Exercise, answer: ExerciseResult) -> SessionFigures:
    """Compare one answer with the truth."""
    truth, found = session.truth, answer.comparison.sets
    shift_deg, angle_deg = truth.zero_shift_deg, answer.trace.angle_deg
    inside = truth.within_sets
    off_deg = angle_deg[inside] + shift_deg - truth.angle_deg[inside]
    pairs = matched(truth.sets, found)
    complete = [each for each, _ in pairs if not each.partial]
    threshold_deg = float(np.mean([each.end_range_deg for each in complete or truth.repetitions]))
    threshold_deg -= SHORT_OF_END_RANGE_DEG
    asked_deg = exercise.end_range_deg[0]
    held = exercise.tempo.end_range_hold_s is not None
    answered = [
        (compared.reached == "yes", (each.held_deg if held else each.end_range_deg) >= asked_deg)
        for each, compared in pairs
        if compared.reached in {"yes", "no"} and compared.repetition.complete
    ]
    exposure = answer.comparison.exposure
    true_time_s = sum(truth.past_threshold_s(exercise.compression_threshold.deg))
    done = [sum(not each.partial for each in one.repetitions) for one in truth.sets]
    sign_is_wrong = float(np.cov(angle_deg[inside], truth.angle_deg[inside])[0, 1]) < 0
    return SessionFigures(
        seed,
        sets_exact=tuple(set_is_exact(one, truth.sets, found) for one in truth.sets),
        total_exact=answer.comparison.complete == sum(done),
        partial_done=len(truth.repetitions) - sum(done),
        partial_found=answer.comparison.partial,
        invented_sets=sum(not any(overlap(one, each) for one in truth.sets) for each in found),
        rmse_deg=float(np.sqrt(np.mean(off_deg**2))),
        end_range_errors_deg=tuple(
            compared.repetition.end_range_deg + shift_deg - each.end_range_deg for each, compared in pairs
        ),
        hold_errors_deg=tuple(
            (
                compared.repetition.held_deg + shift_deg - each.held_deg,
                compared.repetition.end_range_deg + shift_deg - each.end_range_deg,
            )
            for each, compared in pairs
            if each.hold_s >= 0.5 and compared.repetition.held_deg is not None
        ),
        time_errors=time_errors(session, found, threshold_deg),
        covered=bool(exposure.past_threshold_low_s <= true_time_s <= exposure.past_threshold_high_s),
        phase_errors_s=tuple(
            (
                compared.repetition.hold_s - each.hold_s,
                compared.repetition.eccentric_s - each.eccentric_s,
                compared.repetition.concentric_s - each.concentric_s,
            )
            for each, compared in pairs
            if each.concentric_s > 0 and not compared.repetition.stays
        ),
        answers=len(answered),
        wrong_answers=sum(said is not true for said, true in answered),
        zero_off_deg=zero_off_deg(session, answer, 0.0 if sign_is_wrong else float(np.median(off_deg))),
        sign_is_wrong=sign_is_wrong,
    )


def zero_off_deg(session: SimulatedSession, answer: ExerciseResult, sets_off_deg: float) -> float:
    """How far off the truth's neutral pose the zero is; infinite where it was taken from sensors that were not worn."""
    truth, zero = session.truth, answer.zero
    if zero.stop_s > truth.worn.stop_s or zero.start_s < truth.worn.start_s:
        return math.inf
    stood = slice(round(zero.start_s * truth.rate_hz), round(zero.stop_s * truth.rate_hz) + 1)
    pose_off_deg = float(np.mean(truth.angle_deg[stood])) - truth.zero_shift_deg
    return max(pose_off_deg, sets_off_deg, key=abs)


def overlap(one: TrueSet, found: SetComparison) -> bool:
    """Tell whether a true set and one that was found have time in common."""
    return bool(one.start_s < found.stop_s and found.start_s < one.stop_s)


def set_is_exact(one: TrueSet, sets: Sequence[TrueSet], found: Sequence[SetComparison]) -> bool:
    """Tell whether a set was found as one, alone, with as many complete repetitions as were done."""
    here = [each for each in found if overlap(one, each)]
    return (
        len(here) == 1
        and sum(overlap(each, here[0]) for each in sets) == 1
        and here[0].complete == sum(not each.partial for each in one.repetitions)
    )


def matched(sets: Sequence[TrueSet], found: Sequence[SetComparison]) -> list[tuple[TrueRepetition, object]]:
    """Pairs of a repetition that was done and the one found that lies on it."""
    measured = [each for one in found for each in one.repetitions]
    starts_s, stops_s = (
        np.array([getattr(each.repetition, name) for each in measured]) for name in ("start_s", "stop_s")
    )
    pairs = []
    for each in (each for one in sets for each in one.repetitions):
        here = np.flatnonzero(lies_on(starts_s, stops_s, each.start_s, each.stop_s))
        if len(here) == 1:
            pairs.append((each, measured[here[0]]))
    return pairs


def lies_on(start_s: np.ndarray, stop_s: np.ndarray, from_s: float, to_s: float) -> np.ndarray:
    """Tell which stretches have more than half of the shorter one's time in common with another."""
    common_s = np.minimum(stop_s, to_s) - np.maximum(start_s, from_s)
    return common_s > 0.5 * np.minimum(stop_s - start_s, to_s - from_s)


def time_errors(session: SimulatedSession, found: Sequence[SetComparison], threshold_deg: float) -> tuple[float, ...]:
    """Per true set: error of the time past a threshold over what is allowed, zero shift removed."""
    truth = session.truth
    errors = []
    for one, true_s in zip(truth.sets, truth.past_threshold_s(threshold_deg), strict=True):
        counted_s = sum(
            float(each.curve.time_past(threshold_deg - truth.zero_shift_deg))
            for group in found
            for each in group.repetitions
            if lies_on(each.repetition.start_s, each.repetition.stop_s, one.start_s, one.stop_s)
        )
        errors.append((counted_s - true_s) / max(TIME_WITHIN_S, TIME_WITHIN_SHARE * true_s))
    return tuple(errors)


def model_covered(seed: int) -> bool:
    """Tell whether the session's interval holds the true time in one session of the error model alone.

    Parameters
    ----------
    seed : int
        Of the simulation.

    Returns
    -------
    bool
        True where it does. The model's errors have the sizes of the product's own budget; the repetitions' windows are
        the true ones.
    """
    settings = Settings().uncertainty
    budget = angle_budget(settings)
    routine = Routine()
    exercise = exercise_for(routine)
    errors = AngleErrors(
        zero_deg=budget.u_shared_deg, slow_deg=budget.u_set_deg, wobble_deg=settings.soft_tissue_fast_deg
    )
    modelled = angle_error_model(seed, routine, errors)
    sets = [RepetitionSet(tuple(as_found(each) for each in one.repetitions)) for one in modelled.sets]
    comparison = compare_session(
        exercise,
        sets,
        modelled.rate_hz,
        modelled.angle_deg,
        u_shared_deg=budget.u_shared_deg,
        u_set_deg=budget.u_set_deg,
    )
    past = modelled.true_angle_deg > exercise.compression_threshold.deg
    true_s = sum(
        float(np.sum(past[round(one.start_s * modelled.rate_hz) : round(one.stop_s * modelled.rate_hz) + 1]))
        for one in modelled.sets
    )
    true_s /= modelled.rate_hz
    exposure = comparison.exposure
    return bool(exposure.past_threshold_low_s <= true_s <= exposure.past_threshold_high_s)


def as_found(done: TrueRepetition) -> Repetition:
    """Return a repetition as one that was found, with its true window."""
    return Repetition(
        start_s=done.start_s,
        end_range_s=done.end_range_s,
        stop_s=done.stop_s,
        hold_start_s=done.hold_start_s,
        hold_stop_s=done.hold_stop_s,
        end_range_deg=done.end_range_deg,
        end_range_uncertainty_deg=0.3,
        held_deg=done.held_deg,
        start_deg=Routine().start_deg,
        complete=not done.partial,
    )
