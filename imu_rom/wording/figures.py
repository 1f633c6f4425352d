"""Figures in words: angles, times, intervals and probabilities as every sentence and table says them."""

import math
from statistics import median

from imu_rom.dose.comparison import SessionComparison, SetComparison
from imu_rom.dose.exercise import Exercise
from imu_rom.dose.exposure import COVERAGE_FACTOR

__all__ = [
    "LIKELIHOODS",
    "asked_in_all",
    "compared_depths",
    "counted",
    "end_range_of_set",
    "floor_of_set",
    "interval",
    "likelihood",
    "one_decimal",
    "plural",
    "prescribed_time",
    "steadiness_of_set",
    "thing",
    "window",
]

Interval = tuple[float, float, float]

# words for probabilities after Mastrandrea et al., "Guidance note for lead authors of the IPCC fifth assessment report
# on consistent treatment of uncertainties", IPCC, 2010, table 1 (from memory)
LIKELIHOODS = (
    (0.99, "virtually certain"),
    (0.90, "very likely"),
    (0.66, "likely"),
    (0.33, "about as likely as not"),
    (0.10, "unlikely"),
    (0.01, "very unlikely"),
    (0.0, "exceptionally unlikely"),
)


def one_decimal(value: float) -> str:
    """Write a number with one decimal.

    Parameters
    ----------
    value : float
        Degrees or seconds.

    Returns
    -------
    str
        Without a minus in front of zero.
    """
    return f"{round(value, 1) + 0.0:.1f}"


def likelihood(probability: float, asked: float | None = None) -> str:
    """Say a probability in words and as a figure.

    Parameters
    ----------
    probability : float
        0 to 1.
    asked : float, optional
        How sure the plan asks to be; put beside the figure.

    Returns
    -------
    str
        Such as ``"very likely (97 %)"``; nothing measured is 0 or 100 % likely.
    """
    # by the figure that is shown, so that word and figure agree
    whole = round(100 * probability)
    word = next(word for lowest, word in LIKELIHOODS if whole >= round(100 * lowest))
    percent = "over 99 %" if whole >= 100 else "under 1 %" if whole <= 0 else f"{whole} %"
    return f"{word} ({percent})" if asked is None else f"{word} ({percent}, asked {100 * asked:g} %)"


def interval(low: float, high: float, unit: str = "") -> str:
    """Write a 95 % interval.

    Parameters
    ----------
    low, high : float
        Its ends.
    unit : str
        Unit word put behind.

    Returns
    -------
    str
        Such as ``"41.4 to 53.1 s"``.
    """
    return f"{one_decimal(low)} to {one_decimal(high)}{f' {unit}' if unit else ''}"


def window(low: float, high: float, unit: str) -> str:
    """Write what is asked for, as the plan has it.

    Parameters
    ----------
    low, high : float
        Ends of the window; the upper one may be infinite.
    unit : str
        Unit word.

    Returns
    -------
    str
        Such as ``"5 to 15 deg"`` or ``"at least 5 deg"``.
    """
    if math.isinf(high):
        return f"at least {_short(low)} {unit}"
    return f"{_short(low)} to {_short(high)} {unit}"


def _short(value: float) -> str:
    """Write a prescribed number without decimals that say nothing; a derived one keeps one."""
    return f"{round(value, 1) + 0.0:g}"


def prescribed_time(done: SetComparison) -> str:
    """Write the prescribed time past the compressive angle of one set.

    Parameters
    ----------
    done : SetComparison
        A set.

    Returns
    -------
    str
        Such as ``"20 to 60 s"``; empty where none is prescribed.
    """
    if done.prescribed_low_s is None or done.prescribed_high_s is None:
        return ""
    return window(done.prescribed_low_s, done.prescribed_high_s, "s")


def asked_in_all(exercise: Exercise, done: SessionComparison) -> str:
    """Write the prescribed time past the compressive angle of all prescribed sets together.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    done : SessionComparison
        What was done.

    Returns
    -------
    str
        Such as ``"60 to 180 s"``; empty where none is prescribed.
    """
    if not done.sets:
        return ""
    low_s, high_s = done.sets[0].prescribed_low_s, done.sets[0].prescribed_high_s
    if low_s is None or high_s is None:
        return ""
    return window(exercise.sets * low_s, exercise.sets * high_s, "s")


def compared_depths(exercise: Exercise, done: SetComparison) -> list[float]:
    """Give the depth of each complete repetition that is compared with the window.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    done : SetComparison
        A set.

    Returns
    -------
    list of float
        Degrees: what was held where a hold is prescribed, else the end range.
    """
    hold = exercise.tempo.end_range_hold_s
    complete = (each.repetition for each in done.repetitions if each.repetition.complete)
    return [each.held_deg if hold and each.held_deg is not None else each.end_range_deg for each in complete]


def end_range_of_set(exercise: Exercise, done: SetComparison) -> tuple[float, float, float] | None:
    """Give the middle one of a set's depths.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.
    done : SetComparison
        A set.

    Returns
    -------
    tuple of float or None
        Median over the complete repetitions in degrees, and the ends of its 95 % interval; None where none is complete.
        The interval is not narrower than a repetition's own, because the zero is shared.
    """
    depths = compared_depths(exercise, done)
    if not depths:
        return None
    middle = median(depths)
    complete = [each for each in done.repetitions if each.repetition.complete]
    below = median(each.repetition.end_range_deg - each.end_range_low_deg for each in complete)
    above = median(each.end_range_high_deg - each.repetition.end_range_deg for each in complete)
    return middle, middle - below, middle + above


def floor_of_set(done: SetComparison) -> tuple[Interval, Interval] | None:
    """Give the middle one of a set's foot inclinations and shank leans where the repetitions stopped on the floor.

    Parameters
    ----------
    done : SetComparison
        A set.

    Returns
    -------
    tuple of two tuples of float, or None
        Foot and shank: median over the complete repetitions in degrees and the ends of its 95 % interval; None where
        the floor was not asked for or none is complete.
    """
    contacts = [each.floor for each in done.repetitions if each.repetition.complete and each.floor is not None]
    if not contacts:
        return None
    half = median(each.foot_high_deg - each.foot_deg for each in contacts)
    foot = median(each.foot_deg for each in contacts)
    lean = median(each.shank_lean_deg for each in contacts)
    lean_half = median(each.shank_lean_high_deg - each.shank_lean_deg for each in contacts)
    return (foot, foot - half, foot + half), (lean, lean - lean_half, lean + lean_half)


def thing(exercise: Exercise) -> str:
    """Name what an exercise counts.

    Parameters
    ----------
    exercise : Exercise
        What was prescribed.

    Returns
    -------
    str
        ``"repetition"``, ``"hold"`` or ``"stretch"``.
    """
    return "repetition" if exercise.kind == "repetitions" else exercise.kind


def counted(number: int, name: str) -> str:
    """Write a number of things.

    Parameters
    ----------
    number : int
        How many.
    name : str
        What, in the singular.

    Returns
    -------
    str
        Such as ``"3 stretches"``.
    """
    return f"{number} {name if number == 1 else plural(name)}"


def plural(name: str) -> str:
    """Name more than one thing.

    Parameters
    ----------
    name : str
        What, in the singular.

    Returns
    -------
    str
        Such as ``"stretches"``.
    """
    return f"{name}es" if name.endswith("ch") else f"{name}s"


def steadiness_of_set(done: SetComparison) -> tuple[float, Interval] | None:
    """Give the middle one of a set's shakings, and of the changes of the angle over its holds.

    Parameters
    ----------
    done : SetComparison
        A set.

    Returns
    -------
    tuple or None
        Shaking in degrees; change of the angle in degrees with the ends of its 95 % interval. None where nothing was
        held.
    """
    held = [
        (each.repetition.shaking_deg, each.repetition.sag_deg, each.repetition.sag_uncertainty_deg)
        for each in done.repetitions
    ]
    known = [(a, b, c) for a, b, c in held if a is not None and b is not None and c is not None]
    if not known:
        return None
    shaking, sag, uncertainty = (median(values) for values in zip(*known, strict=True))
    return shaking, (sag, sag - COVERAGE_FACTOR * uncertainty, sag + COVERAGE_FACTOR * uncertainty)
