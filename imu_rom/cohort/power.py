"""Studies simulated from simulated sessions: how many people and sessions tell two amounts of exposure apart.

A session's true exposure is drawn about its person's, a person's about the arm's, both by lognormal distributions. What
is measured of it comes from the simulator: invented people do the exercise, sensors of a grade add their errors to the
angle, each session's neutral pose is off by an error of its own, and time past the compressive angle is read off the
exposure curve. The study then tests participants' means by Welch's t.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.angle_path import angle_path
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.exposure import ExposureCurve, exposure_curve, total_curve
from imu_rom.dose.study_power import PowerAssumptions, PowerRow, StudyPower
from imu_rom.errors import CannotAnswerError
from imu_rom.motion.small_samples import NORMAL_FACTOR
from imu_rom.simulation import AngleErrors, ModelledAngle, Routine, angle_error_model, routine_from_exercise

__all__ = ["PEOPLE", "SENSORS", "study_power"]

Floats = NDArray[np.float64]

SENSORS = {
    "exact": AngleErrors(zero_deg=0.0, slow_deg=0.0, wobble_deg=0.0),
    "usual": AngleErrors(zero_deg=0.0, slow_deg=0.5, wobble_deg=0.65),
    "coarse": AngleErrors(zero_deg=0.0, slow_deg=1.5, wobble_deg=1.5),
}
"""Grades of sensors by what they add to the angle besides the zero: those of the error model, none, and three times."""

PEOPLE = (3, 4, 5, 6, 7, 8, 10, 12, 14, 16, 20, 24, 28, 32, 40, 48, 64)
"""People an arm that are tried, in order."""

BASES = 8
"""Simulated sessions that a measured one is drawn from."""


def study_power(
    exercise: Exercise,
    assumptions: PowerAssumptions,
    *,
    sensors: Sequence[str] = ("usual",),
    zeros_deg: Sequence[float] = (0.0, 1.0, 2.0, 4.0),
    sessions: Sequence[int] = (1, 2, 4, 8),
) -> StudyPower:
    """Find the fewest people for each way to do a study.

    Parameters
    ----------
    exercise : Exercise
        With a compressive angle.
    assumptions : PowerAssumptions
        What the study rests on.
    sensors : sequence of str
        Names in `SENSORS`.
    zeros_deg : sequence of float
        Standard deviations of the neutral pose.
    sessions : sequence of int
        Recorded sessions of each person.

    Returns
    -------
    StudyPower
        The same for the same seed.

    Raises
    ------
    CannotAnswerError
        The exercise never passes its compressive angle.
    """
    routine = routine_from_exercise(exercise)
    rows: list[PowerRow] = []
    for grade in sensors:
        bases = _bases(routine, SENSORS[grade], assumptions)
        rows += [_row(assumptions, bases, grade, zero_deg, number) for zero_deg in zeros_deg for number in sessions]
    return StudyPower(assumptions, PEOPLE[-1], tuple(rows))


Base = tuple[ExposureCurve, float]


def _curve(angle: ModelledAngle, values: Floats) -> ExposureCurve:
    done = [each for one in angle.sets for each in one.repetitions]
    return total_curve([exposure_curve(angle_path(angle.rate_hz, values, each.start_s, each.stop_s)) for each in done])


def _bases(routine: Routine, errors: AngleErrors, assumptions: PowerAssumptions) -> list[Base]:
    """Simulate sessions: the exposure curve of the measured angle, and the true time past the compressive angle."""
    bases = []
    for seed in range(BASES):
        angle = angle_error_model(assumptions.seed * 1000 + seed, routine, errors)
        true_s = float(_curve(angle, angle.true_angle_deg).time_past(assumptions.threshold_deg))
        if true_s <= 0.0:
            raise CannotAnswerError(
                f"{assumptions.exercise} never passes {assumptions.threshold_deg:g} deg as it is prescribed",
                do="take an exercise that does",
            )
        bases.append((_curve(angle, angle.angle_deg), true_s))
    return bases


def _measured_share(
    bases: Sequence[Base], threshold_deg: float, zero_deg: float, count: int, chance: np.random.Generator
) -> Floats:
    """Draw what share of their true exposure sessions are measured to have."""
    which = chance.integers(0, len(bases), count)
    shift_deg = chance.normal(0.0, zero_deg, count) if zero_deg else np.zeros(count)
    share = np.empty(count)
    for number, (curve, true_s) in enumerate(bases):
        own = which == number
        share[own] = curve.time_past(threshold_deg - shift_deg[own]) / true_s
    return share


def _row(assumptions: PowerAssumptions, bases: Sequence[Base], grade: str, zero_deg: float, sessions: int) -> PowerRow:
    # every way has chance of its own, that does not depend on which others are asked for
    own = [assumptions.seed, list(SENSORS).index(grade), round(1000 * zero_deg), sessions]
    ratio = float(
        _measured_share(bases, assumptions.threshold_deg, zero_deg, 20_000, np.random.default_rng([*own, 0])).mean()
    )
    power, enough = 0.0, None
    for people in PEOPLE:
        chance = np.random.default_rng([*own, people])
        power = _power(assumptions, bases, zero_deg, sessions, people, chance)
        if power >= assumptions.wanted:
            enough = people
            break
    half = NORMAL_FACTOR * float(np.sqrt(power * (1.0 - power) / assumptions.trials))
    return PowerRow(grade, zero_deg, sessions, enough, power, max(power - half, 0.0), min(power + half, 1.0), ratio)


def _power(
    assumptions: PowerAssumptions,
    bases: Sequence[Base],
    zero_deg: float,
    sessions: int,
    people: int,
    chance: np.random.Generator,
) -> float:
    from scipy.special import stdtr  # noqa: PLC0415  loads slowly, and only statistics need it

    means, squares = [], []
    for mean_s in (assumptions.first_s, assumptions.second_s):
        shape = (assumptions.trials, people, sessions)
        person_s = mean_s * _lognormal(assumptions.between_share, shape[:2], chance)
        true_s = person_s[..., None] * _lognormal(assumptions.within_share, shape, chance)
        share = _measured_share(bases, assumptions.threshold_deg, zero_deg, true_s.size, chance).reshape(shape)
        own = (true_s * share).mean(axis=-1)
        means.append(own.mean(axis=-1))
        squares.append(np.maximum(own.var(axis=-1, ddof=1) / people, 1e-12))
    # Welch's t with the degrees of freedom of Welch and Satterthwaite
    total = squares[0] + squares[1]
    statistic = np.abs(means[1] - means[0]) / np.sqrt(total)
    degrees = total**2 / ((squares[0] ** 2 + squares[1] ** 2) / (people - 1))
    return float(np.mean(2.0 * stdtr(degrees, -statistic) < assumptions.level))


def _lognormal(share: float, shape: tuple[int, ...], chance: np.random.Generator) -> Floats:
    """Draw factors of mean 1."""
    return np.exp(chance.normal(-0.5 * share * share, share, shape)) if share else np.ones(shape)
