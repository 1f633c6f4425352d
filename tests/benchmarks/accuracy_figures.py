"""Figures of accuracy on simulated sessions with known truth: what is simulated, analysed and counted.

`ROWS` says which sessions; `measure` makes one session and takes its figures; `summary` puts those of many together.
Accuracy is judged with the session's zero shift (how far off the true zero the person stood in the neutral pose)
removed: what the analysis can't know it can't be blamed for. Coverage is judged with it in: that is what the intervals
are for.
"""

import math
import re
import tempfile
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from imu_rom.dose.comparison import SetComparison, compare_session
from imu_rom.dose.plan import CompressionThreshold, Exercise, Load, Plan, Stage, Tempo
from imu_rom.errors import ImuRomError
from imu_rom.motion.repetitions import Repetition, RepetitionSet
from imu_rom.motion.uncertainty import angle_budget
from imu_rom.recording.bids import write_bids_motion
from imu_rom.recording.model import Recording
from imu_rom.recording.reading import read_recording
from imu_rom.session import analyse
from imu_rom.session.result import ExerciseResult
from imu_rom.settings import Settings
from imu_rom.simulation import (
    SCENARIOS,
    AngleErrors,
    Person,
    Routine,
    SimulatedSession,
    TrueRepetition,
    TrueSet,
    angle_error_model,
    simulate_session,
)

__all__ = [
    "END_RANGE_WITHIN_DEG",
    "ROWS",
    "Row",
    "SessionFigures",
    "Summary",
    "exercise_for",
    "measure",
    "model_covered",
    "summary",
]

SHORT_OF_END_RANGE_DEG = 4.0
END_RANGE_WITHIN_DEG = 1.3
TIME_WITHIN_SHARE, TIME_WITHIN_S = 0.05, 1.0
WRONG_ZERO_DEG = 3.0


@dataclass(frozen=True)
class Row:
    """Sessions of one kind: a scenario of the simulator, with changes.

    Parameters
    ----------
    scenario : str
        One of the simulator's.
    meaning : str
        One line for people.
    routine : dict
        Fields of the routine to set otherwise. The person sits on no chair before standing up unless this says so.
    rate_hz : float
        Rate of the recordings.
    share : float
        Share of the seeds that this row takes.
    written : bool
        True: the recording is written as BIDS Motion with 5 digits and read back, as a user's would be.
    """

    scenario: str
    meaning: str
    routine: dict[str, object] = field(default_factory=dict)
    rate_hz: float = 50.0
    share: float = 0.3
    written: bool = False


SQUAT: dict[str, object] = {
    "joint": "knee", "proximal": "thigh", "distal": "shank", "task": "squathold", "sets": 3, "repetitions": 5,
    "start_deg": 8.0, "end_range_deg": 60.0, "eccentric_s": 3.0, "hold_s": 20.0, "concentric_s": 2.5,
    "calibration_sign": 1, "calibration_deg": (35.0, 55.0),
}  # fmt: skip

MOUNTED: dict[str, object] = {"proximal_mounting": "z outward, x up", "distal_mounting": "z up, x forward"}

ROWS = {
    "usual": Row("usual", "3 x 15 heel drops as prescribed", share=1.0),
    "partial": Row("partial", "one repetition in eight goes only part of the way"),
    "fast": Row("fast", "1.5 s a repetition"),
    "long hold": Row("long-hold", "3 x 5, held for 18 s"),
    "floor level": Row("floor", "rise and lower to the floor"),
    "rests of 10 s": Row("short-rests", "standing between the sets"),
    "zero off": Row("zero-off", "neutral pose off by N(3, 4) deg"),
    "soft tissue locked": Row("locked-soft-tissue", "skin follows 5-10 % of the excursion"),
    "chair first": Row("usual", "sits on a chair before standing up", {"sits_before": True}),
    "interrupted": Row("interrupted", "a pause of 5-20 s in every set"),
    "squat hold": Row("usual", "knee, 3 x 5, held for 20 s", SQUAT),
    "mounting declared": Row(
        "usual", "both sensors as the plan says, off by 4 deg about each axis", MOUNTED, share=0.25
    ),
    "100 Hz": Row("usual", "the usual at twice the rate", rate_hz=100.0, share=0.25),
    "100 Hz by file": Row("usual", "the same, written with 5 digits and read", rate_hz=100.0, share=0.05, written=True),
}


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


def routine_of(row: Row) -> tuple[Routine, Person]:
    """Return what is done in a row and by whom."""
    routine, person = SCENARIOS[row.scenario].apply(Routine(sits_before=False), Person())
    return replace(routine, **row.routine), person


def exercise_for(routine: Routine) -> Exercise:
    """Return the exercise of a plan that asks for the routine, with a threshold 4 deg short of its mean end range."""
    ankle = routine.joint == "ankle"
    return Exercise(
        name=routine.task,
        joint=routine.joint,
        motion="dorsiflexion" if ankle else "flexion",
        side=routine.side,
        proximal=routine.proximal,
        distal=routine.distal,
        calibration_movement="plantarflexion" if ankle else "flexion",
        sets=routine.sets,
        repetitions=routine.repetitions,
        tempo=Tempo(
            eccentric_s=routine.eccentric_s,
            end_range_hold_s=routine.hold_s if routine.hold_s >= 0.3 else None,
            concentric_s=routine.concentric_s,
            top_pause_s=routine.top_pause_s,
        ),
        rest_s=routine.rest_s,
        start_deg=routine.start_deg,
        end_range_deg=(routine.end_range_deg - 5.0, routine.end_range_deg + 5.0),
        limit_deg=routine.end_range_deg + 8.0,
        compression_threshold=CompressionThreshold(routine.end_range_deg - SHORT_OF_END_RANGE_DEG, "clinician"),
        load=Load(eccentric="single leg", concentric="both legs", share_of_body_weight=1.0, external_kg=0.0),
        surface="floor" if routine.on_floor else "step",
        mounting={
            point: words
            for point, words in (
                (routine.proximal, routine.proximal_mounting),
                (routine.distal, routine.distal_mounting),
            )
            if words is not None
        },
        footwear="trainers",
    )


def plan_of(exercise: Exercise) -> Plan:
    """Return a plan of one exercise."""
    site = "achilles insertion" if exercise.joint == "ankle" else "patellar"
    return Plan("Simulated", site, (Stage("only one", (exercise,)),), "only one")


def through_a_file(recording: Recording, routine: Routine) -> Recording:
    """Write the recording as BIDS Motion with 5 digits, and read and check it as a user's."""
    with tempfile.TemporaryDirectory() as folder:
        file = write_bids_motion(
            Path(folder),
            subject="simulated",
            task=routine.task,
            rate_hz=recording.rate_hz,
            sensors=tuple(recording.sensors.values()),
        )
        return read_recording(file, Settings().reading)


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
            if each.concentric_s > 0
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


@dataclass(frozen=True)
class Summary:
    """Figures of many sessions of one row; NaN where there is nothing to take them from.

    Parameters
    ----------
    sessions : int
        Sessions simulated.
    refusals : dict of str to int
        Sessions refused, by kind of error.
    sets_exact, totals_exact : float
        Shares.
    partial_done, partial_found, invented_sets : int
        Counts.
    rmse_median_deg, rmse_high_deg : float
        Median and 95th percentile over the sessions.
    end_range_within : float
        Share of repetitions.
    held_bias_deg, end_range_bias_deg : float
        Mean error on holds.
    time_within : float
        Share of sets.
    covered : float
        Share of sessions.
    hold_bias_s, eccentric_bias_s, concentric_bias_s : float
        Mean errors.
    wrong_answers : float
        Share of the repetitions answered by yes or no.
    wrong_zeros, wrong_signs : float
        Shares of the sessions answered.
    """

    sessions: int
    refusals: dict[str, int]
    sets_exact: float
    totals_exact: float
    partial_done: int
    partial_found: int
    invented_sets: int
    rmse_median_deg: float
    rmse_high_deg: float
    end_range_within: float
    held_bias_deg: float
    end_range_bias_deg: float
    time_within: float
    covered: float
    hold_bias_s: float
    eccentric_bias_s: float
    concentric_bias_s: float
    wrong_answers: float
    wrong_zeros: float
    wrong_signs: float


def refusal_kind(sentence: str) -> str:
    """Return the part of a refusal that does not speak of this one recording."""
    return re.split(r":| \(", sentence, maxsplit=1)[0].strip()


def mean(values: Iterable[float]) -> float:
    """Return the mean, NaN of nothing."""
    kept = list(values)
    return float(np.mean(kept)) if kept else math.nan


def summary(all_figures: Sequence[SessionFigures]) -> Summary:
    """Put the figures of many sessions together.

    Parameters
    ----------
    all_figures : sequence of SessionFigures
        One entry a session.

    Returns
    -------
    Summary
        Their summary; shares are of the sessions answered.
    """
    answered = [each for each in all_figures if not each.refusal]
    rmse = [each.rmse_deg for each in answered]
    holds = [pair for each in answered for pair in each.hold_errors_deg]
    phases = [triple for each in answered for triple in each.phase_errors_s]
    answers = sum(each.answers for each in answered)
    return Summary(
        sessions=len(all_figures),
        refusals=dict(Counter(refusal_kind(each.refusal) for each in all_figures if each.refusal)),
        sets_exact=mean(exact for each in answered for exact in each.sets_exact),
        totals_exact=mean(each.total_exact for each in answered),
        partial_done=sum(each.partial_done for each in answered),
        partial_found=sum(each.partial_found for each in answered),
        invented_sets=sum(each.invented_sets for each in answered),
        rmse_median_deg=float(np.median(rmse)) if rmse else math.nan,
        rmse_high_deg=float(np.quantile(rmse, 0.95)) if rmse else math.nan,
        end_range_within=mean(
            abs(error) <= END_RANGE_WITHIN_DEG for each in answered for error in each.end_range_errors_deg
        ),
        held_bias_deg=mean(held for held, _ in holds),
        end_range_bias_deg=mean(end for _, end in holds),
        time_within=mean(abs(error) <= 1 for each in answered for error in each.time_errors),
        covered=mean(each.covered for each in answered),
        hold_bias_s=mean(hold for hold, _, _ in phases),
        eccentric_bias_s=mean(eccentric for _, eccentric, _ in phases),
        concentric_bias_s=mean(concentric for _, _, concentric in phases),
        wrong_answers=sum(each.wrong_answers for each in answered) / answers if answers else math.nan,
        wrong_zeros=mean(each.zero_is_wrong for each in answered),
        wrong_signs=mean(each.sign_is_wrong for each in answered),
    )
