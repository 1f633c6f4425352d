"""The exposure curve of a session for papers: time past every angle within the repetitions, with its band."""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.exposure import COVERAGE_FACTOR, total_curve
from imu_rom.dose.moved_threshold import common_variance, set_curves
from imu_rom.errors import CannotAnswerError
from imu_rom.exchange.document import ExerciseAnswer
from imu_rom.report.angle_figure import INK, PALETTE
from imu_rom.report.static_canvas import COLUMN_MM, blank_figure, stack
from imu_rom.report.static_session import draw_asked

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["ExposureBand", "exposure_band", "exposure_drawing"]

Floats = NDArray[np.float64]

HEIGHT_MM, FOOT_MM = 48.0, 9.0


@dataclass(frozen=True)
class ExposureBand:
    """Time past each angle over all repetitions of an exercise.

    Parameters
    ----------
    angle_deg, time_s, low_s, high_s : ndarray of shape (n,)
        Angles in steps of 0.1 degrees, the time past each, and its 95 % interval had the angle been off alike in all
        sets. With slow errors of each set by itself, as the result's interval at the compressive angle is made, it is
        a little narrower.
    """

    angle_deg: Floats
    time_s: Floats
    low_s: Floats
    high_s: Floats


def exposure_band(answer: ExerciseAnswer) -> ExposureBand:
    """Read the time past every angle off the repetitions' curves.

    Parameters
    ----------
    answer : ExerciseAnswer
        The exercise's answer.

    Returns
    -------
    ExposureBand
        From the shallowest to the deepest angle of the repetitions, as far as the uncertainty reaches.

    Raises
    ------
    CannotAnswerError
        No angle is known, or nothing was done.
    """
    curves = set_curves(answer.comparison)
    if not answer.exercise.angle_is_known or not curves:
        what = "was measured by one sensor alone, which knows no angle" if curves else "holds no repetition"
        raise CannotAnswerError(what, where=answer.exercise.name, do="use --kind angle")
    curve = total_curve(curves)
    constant, growth = common_variance(answer.budget)
    reach = COVERAGE_FACTOR * math.sqrt(constant + growth * float(np.abs(curve.angle_deg).max()) ** 2)
    low_deg, high_deg = curve.first_deg - reach, float(curve.angle_deg[-1]) + reach
    angle_deg = np.round(np.arange(math.floor(low_deg * 10), math.ceil(high_deg * 10) + 1) / 10, 1)
    half = COVERAGE_FACTOR * np.sqrt(constant + growth * angle_deg**2)
    return ExposureBand(
        angle_deg,
        curve.time_past(angle_deg),
        curve.time_past(angle_deg + half),
        curve.time_past(angle_deg - half) + curve.unseen_s,
    )


def exposure_drawing(answer: ExerciseAnswer, width_mm: float = COLUMN_MM) -> "Figure":
    """Draw the time past every angle.

    Parameters
    ----------
    answer : ExerciseAnswer
        The exercise's answer.
    width_mm : float
        How wide it is.

    Returns
    -------
    matplotlib.figure.Figure
        With its band, and at the compressive angle what was measured and what was prescribed.

    Raises
    ------
    CannotAnswerError
        No angle is known, or nothing was done.
    """
    band = exposure_band(answer)
    exercise, done = answer.exercise, answer.comparison
    figure = blank_figure(width_mm)
    axes = figure.add_subplot()
    axes.plot(band.angle_deg, band.time_s, color=PALETTE["blue"], label="time past each angle")
    axes.fill_between(band.angle_deg, band.low_s, band.high_s, color=PALETTE["sky blue"], alpha=0.45, linewidth=0,
                      label="its 95 % interval")  # fmt: skip
    draw_asked(axes, exercise, across=False)
    threshold, exposure = exercise.compression_threshold, done.exposure
    if threshold is not None and exposure is not None:
        axes.plot([threshold.deg] * 2, [exposure.past_threshold_low_s, exposure.past_threshold_high_s], color=INK,
                  marker="_", markersize=5, linewidth=1.0, zorder=4)  # fmt: skip
        axes.plot([threshold.deg], [exposure.past_threshold_s], linestyle="none", marker="o", markersize=3.5,
                  markerfacecolor=PALETTE["blue"], markeredgecolor=INK, markeredgewidth=0.6, zorder=5,
                  label="measured past it, with its 95 % interval")  # fmt: skip
        lows = [each.prescribed_low_s for each in done.sets]
        highs = [each.prescribed_high_s for each in done.sets]
        if lows and None not in lows and None not in highs and math.isfinite(sum(filter(None, highs))):
            ends = [sum(filter(None, each)) for each in (lows, highs)]
            axes.plot([threshold.deg + 0.9, threshold.deg + 1.5, threshold.deg + 1.5, threshold.deg + 0.9],
                      [ends[0], ends[0], ends[1], ends[1]], color=INK, linewidth=1.5, zorder=4,
                      label="prescribed for the sets done")  # fmt: skip
    middle = [each.end_range_low_deg for part in done.sets for each in part.repetitions]
    start = min([*middle, threshold.deg if threshold is not None else middle[0]]) - 15
    seen = band.angle_deg >= start
    axes.set(xlim=(max(start, band.angle_deg[0]), band.angle_deg[-1]), ylim=(0, 1.05 * float(band.high_s[seen].max())))
    axes.set(xlabel=f"{exercise.joint} {exercise.motion}, deg", ylabel="time past the angle,\nall repetitions, s")
    stack(figure, [(axes, HEIGHT_MM, 0.0)], FOOT_MM)
    return figure
