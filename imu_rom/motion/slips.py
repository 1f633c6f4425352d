"""Sensors that slip on their segments, and a zero that drifts: what shows it besides the angle itself.

A hinge's axis is tilted against gravity alike for both sensors and has one heading for both, up to slow drift. A sensor
that turns on its segment breaks that at once and for good: the two tilts part by a step that stays (a constant, where
walking or handling make it swing), and so may the headings. A turn about the joint's own axis breaks neither: it moves
every later angle by the same amount, where a person stands still and where repetitions start and end. A step in all of
these is a slip; a step in the standing alone may be another stance.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from imu_rom.motion.coarse import moving_mean

__all__ = ["AxisStep", "LevelStep", "find_axis_steps", "level_step", "level_trend"]

Floats = NDArray[np.float64]

# one look a second; a step is seen between the looks of this many seconds before and after
LOOK_S = 1.0
WINDOW_LOOKS = 10
LONG_WINDOW_LOOKS = 60
SMALLEST_TILT_STEP_DEG = 2.0
SMALLEST_HEADING_STEP_DEG = 4.0
# and this many robust spreads of all such differences in the recording, as some joints are no clean hinges
TILT_SPREADS, HEADING_SPREADS = 4.5, 6.0
# of a step this much must be left over the minutes around it; walking on uneven ground comes back
LASTING_SHARE = 0.6
SHARPEN_S = 0.4
# repetitions on either side in which a step of their level is looked for
LEVELS_BESIDE = 10
FEWEST_LEVELS = 2
# Start and end range move together where they differ by no more than this many of their spreads.
APART = 3.0
SMALLEST_APART_DEG = 0.5


@dataclass(frozen=True)
class AxisStep:
    """A lasting step of the axis as one sensor sees it against the other.

    Parameters
    ----------
    time_s : float
        When.
    tilt_deg, heading_deg : float
        Step of the difference in tilt and in heading.
    """

    time_s: float
    tilt_deg: float
    heading_deg: float


@dataclass(frozen=True)
class LevelStep:
    """A step of the level from which and to which repetitions go.

    Parameters
    ----------
    after : int
        Index of the first repetition behind it.
    size_deg : float
        By how much.
    standard_uncertainty_deg : float
        Of that size.
    """

    after: int
    size_deg: float
    standard_uncertainty_deg: float


def _window_steps(values: Floats, width: int) -> Floats:
    """Median of the looks after less that of those before each look; NaN where there are too few."""
    steps = np.full(len(values), np.nan)
    if len(values) < 2 * width + 1:
        return steps
    windows = np.lib.stride_tricks.sliding_window_view(values, width)
    with np.errstate(all="ignore"):
        middle = np.median(windows, axis=1)
    # the look at the step itself belongs to neither side
    steps[width : len(values) - width] = (
        middle[width + 1 :][: len(values) - 2 * width] - middle[: len(values) - 2 * width]
    )
    return steps


def _drift_over_windows(values: Floats, width: int) -> Floats:
    """Drift that goes on over a step: the smaller slope of the two sides, as a step within one side is no drift."""
    half = width // 2
    rises = np.full((2, len(values)), np.nan)
    within = _window_steps(values, half) / (half + 1)
    rises[0, half:] = within[: len(values) - half]
    rises[1, : len(values) - half] = within[half:]
    smaller = np.where(np.abs(rises[0]) < np.abs(rises[1]), rises[0], rises[1])
    return np.asarray(np.where(rises[0] * rises[1] > 0, smaller, 0.0 * smaller) * (width + 1))


def _looks(values: Floats, use: NDArray[np.bool_], width: int) -> Floats:
    """Median of each look; NaN where most of it can't be used."""
    count = len(values) // width
    kept = np.where(use, values, np.nan)[: count * width].reshape(count, width)
    enough = np.isfinite(kept).sum(axis=1) > width / 2
    found = np.full(count, np.nan)
    if enough.any():
        found[enough] = np.nanmedian(kept[enough], axis=1)
    return found


def _bound(steps: Floats, smallest: float, spreads: float) -> float:
    known = steps[np.isfinite(steps)]
    return max(smallest, spreads * 1.4826 * float(np.median(np.abs(known)))) if len(known) else np.inf


def find_axis_steps(
    tilt_rad: Floats,
    heading_rad: Floats,
    flatness: Floats,
    worn: NDArray[np.bool_],
    missing: NDArray[np.bool_],
    rate_hz: float,
) -> list[AxisStep]:
    """Find lasting steps of the joint's axis between the two sensors.

    Parameters
    ----------
    tilt_rad : ndarray of shape (m,)
        From `alignment.tilt_disagreement_rad`.
    heading_rad, flatness : ndarray of shape (m,)
        From `heading.heading_difference_rad`.
    worn, missing : ndarray of bool of shape (m,)
        True where both sensors were worn; where either delivered nothing, after which the heading may be another.
    rate_hz : float
        Rate of these arrays.

    Returns
    -------
    list of AxisStep
        In time order.
    """
    width = max(1, round(LOOK_S * rate_hz))
    use = worn & ~missing
    tilt = _looks(np.degrees(tilt_rad), use, width)
    heading = _looks(np.degrees(np.unwrap(heading_rad)), use & (flatness > 0.5), width)
    steps = {"tilt": _window_steps(tilt, WINDOW_LOOKS), "heading": _window_steps(heading, WINDOW_LOOKS)}
    steps["heading"] = steps["heading"] - _drift_over_windows(heading, WINDOW_LOOKS)
    gap = np.convolve(
        _looks(missing.astype(float), np.ones_like(missing), width) > 0, np.ones(2 * WINDOW_LOOKS + 1), "same"
    )
    steps["heading"][gap[: len(heading)] > 0] = np.nan
    bounds = {
        "tilt": _bound(steps["tilt"], SMALLEST_TILT_STEP_DEG, TILT_SPREADS),
        "heading": _bound(steps["heading"], SMALLEST_HEADING_STEP_DEG, HEADING_SPREADS),
    }
    score = np.nanmax([np.abs(np.nan_to_num(steps[name])) / bounds[name] for name in steps], axis=0)
    found: list[AxisStep] = []
    while len(score) and score.max() > 1.0:
        at = int(np.argmax(score))
        score[max(0, at - 2 * WINDOW_LOOKS) : at + 2 * WINDOW_LOOKS + 1] = 0.0
        name = max(steps, key=lambda each: abs(np.nan_to_num(steps[each][at])) / bounds[each])
        values = tilt if name == "tilt" else heading
        if name == "tilt" and not _lasts(tilt, at, steps["tilt"][at], [round(each.time_s / LOOK_S) for each in found]):
            continue
        look = _split(values, at)
        fine = np.degrees(tilt_rad) if name == "tilt" else np.degrees(np.unwrap(heading_rad))
        found.append(
            AxisStep(
                _sharpened_s(fine, look * width, float(np.sign(steps[name][at])), width, rate_hz),
                float(np.nan_to_num(steps["tilt"][at])),
                float(np.nan_to_num(steps["heading"][at])),
            )
        )
    return sorted(found, key=lambda each: each.time_s)


def _lasts(tilt: Floats, at: int, step: float, others: Sequence[int]) -> bool:
    """Whether most of a step is left in the longer stretches around it, up to the next step."""
    begin = max([0, at - LONG_WINDOW_LOOKS, *(each + 1 for each in others if each < at)])
    end = min([len(tilt), at + LONG_WINDOW_LOOKS + 1, *(each for each in others if each > at)])
    before, after = tilt[begin:at], tilt[at + 1 : end]
    sides = [each[np.isfinite(each)] for each in (before, after)]
    if min(map(len, sides)) < WINDOW_LOOKS // 2:
        return False
    return bool((np.median(sides[1]) - np.median(sides[0])) * np.sign(step) > LASTING_SHARE * abs(step))


def _split(values: Floats, at: int) -> int:
    """First look behind a step near a look: the split of the looks around it that leaves the least scatter."""
    begin, end = max(0, at - WINDOW_LOOKS), min(len(values), at + WINDOW_LOOKS + 1)
    looks = np.arange(begin, end)[np.isfinite(values[begin:end])]
    if len(looks) < 4:
        return at
    known = values[looks]
    left = [_around_mean(known[:each]) + _around_mean(known[each:]) for each in range(1, len(known))]
    return int(looks[1 + int(np.argmin(left))])


def _sharpened_s(values: Floats, near: int, sign: float, width: int, rate_hz: float) -> float:
    """Steepest way in the direction of a step around a sample."""
    begin, end = max(0, near - width), min(len(values), near + 2 * width)
    lag = max(1, round(SHARPEN_S * rate_hz))
    smooth = moving_mean(values[begin:end], lag)
    if len(smooth) <= lag:
        return near / rate_hz
    rise = sign * (smooth[lag:] - smooth[:-lag])
    return float((begin + int(np.argmax(rise)) + lag / 2) / rate_hz)


def _around_mean(values: Floats) -> float:
    return float(np.sum((values - values.mean()) ** 2))


def level_step(starts_deg: Floats, ends_deg: Floats) -> LevelStep | None:
    """Find the step that the repetitions' start and end range take together, where one fits better than a slope.

    Parameters
    ----------
    starts_deg, ends_deg : ndarray of shape (n,)
        Angle of the start position and of the end range of each repetition, in time order.

    Returns
    -------
    LevelStep or None
        None where there are too few, start and end range don't move together, or a straight line over the repetitions
        leaves less of their scatter.
    """
    count = len(starts_deg)
    if count < 2 * FEWEST_LEVELS:
        return None
    boundaries = range(FEWEST_LEVELS, count - FEWEST_LEVELS + 1)
    left = [
        sum(_around_mean(part) for each in (starts_deg, ends_deg) for part in (each[:b], each[b:])) for b in boundaries
    ]
    after = boundaries[int(np.argmin(left))]
    number = np.arange(count) - (count - 1) / 2
    slopes = [float(number @ each / (number @ number)) for each in (starts_deg, ends_deg)]
    sloping = sum(
        _around_mean(each - slope * number) for each, slope in zip((starts_deg, ends_deg), slopes, strict=True)
    )
    if min(left) > sloping:
        return None
    moves, variances = [], []
    for levels in (starts_deg, ends_deg):
        before, behind = levels[max(0, after - LEVELS_BESIDE) : after], levels[after : after + LEVELS_BESIDE]
        moves.append(float(np.median(behind) - np.median(before)))
        # a median's variance is pi/2 that of a mean
        variances.append(np.pi / 2 * (np.var(before, ddof=1) / len(before) + np.var(behind, ddof=1) / len(behind)))
    u_deg = float(np.sqrt(np.sum(variances)))
    if moves[0] * moves[1] <= 0 or abs(moves[0] - moves[1]) > APART * (u_deg + SMALLEST_APART_DEG):
        return None
    return LevelStep(after, float(np.mean(moves)), u_deg / 2)


def level_trend(time_s: Floats, starts_deg: Floats, ends_deg: Floats) -> tuple[float, float]:
    """Fit how fast the repetitions' start and end range move together.

    Parameters
    ----------
    time_s, starts_deg, ends_deg : ndarray of shape (n,)
        Time, start position and end range of each repetition.

    Returns
    -------
    slope_deg_s, standard_uncertainty_deg_s : float
        0 and infinite where there are fewer than three.
    """
    level = (starts_deg + ends_deg) / 2
    off = time_s - time_s.mean() if len(time_s) else time_s
    spread = float(off @ off)
    if len(level) < FEWEST_LEVELS or spread == 0:
        return 0.0, float("inf")
    slope = float(off @ level) / spread
    left = level - level.mean() - slope * off
    return slope, float(np.sqrt(left @ left / (len(level) - 2) / spread))
