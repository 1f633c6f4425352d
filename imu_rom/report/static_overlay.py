"""Repetitions of each set laid over each other, in per cent of the movement, for paper."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.comparison import RepetitionComparison, SetComparison
from imu_rom.exchange.document import ExerciseAnswer
from imu_rom.report.angle_figure import INK, PALETTE
from imu_rom.report.static_canvas import COLUMN_MM, blank_figure, drawable, stack
from imu_rom.report.static_session import draw_asked
from imu_rom.session.result import AngleTrace

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["laid_over", "overlay_drawing"]

Floats = NDArray[np.float64]

HEIGHT_MM, FOOT_MM = 40.0, 9.0
PERCENTS = np.arange(101.0)
# sets beside each other: a set is as wide as its per cents, with room to the next
SETS_IN_A_ROW = 3
SET_WIDTH = 115.0


def laid_over(trace: AngleTrace, repetitions: Sequence[RepetitionComparison]) -> Floats:
    """Give the angle of repetitions at even shares of their way from leaving the start to coming back.

    Parameters
    ----------
    trace : AngleTrace
        The angle over time.
    repetitions : sequence of RepetitionComparison
        Which; at least one.

    Returns
    -------
    ndarray of float, shape (repetitions, 101)
        Degrees, from 0 to 100 %; straight between samples, as on the page.
    """
    return np.array(
        [
            np.interp(
                each.repetition.start_s + (each.repetition.stop_s - each.repetition.start_s) * PERCENTS / 100.0,
                trace.time_s,
                trace.angle_deg,
            )
            for each in repetitions
        ]
    )


def overlay_drawing(answer: ExerciseAnswer, trace: AngleTrace, width_mm: float = COLUMN_MM) -> "Figure":
    """Draw the repetitions of each set over each other, with their median.

    Parameters
    ----------
    answer : ExerciseAnswer
        The exercise's answer, with at least one set that holds repetitions.
    trace : AngleTrace
        Its angle over time.
    width_mm : float
        How wide it is.

    Returns
    -------
    matplotlib.figure.Figure
        Up to three sets beside each other, against window, limit and compressive angle.
    """
    figure = blank_figure(width_mm)
    sets = [each for each in answer.comparison.sets if each.repetitions]
    rows = [sets[start : start + SETS_IN_A_ROW] for start in range(0, len(sets), SETS_IN_A_ROW)]
    drawn: list[tuple[Axes, float, float]] = []
    for place, row in enumerate(rows):
        axes = figure.add_subplot(len(rows), 1, place + 1)
        for at, done in enumerate(row):
            _draw_set(axes, done, laid_over(trace, done.repetitions), at * SET_WIDTH)
        draw_asked(axes, answer.exercise)
        ticks = [(at * SET_WIDTH + share, f"{share}") for at in range(len(row)) for share in (0, 50, 100)]
        axes.set_xticks([at for at, _ in ticks], [words for _, words in ticks])
        # sets are as wide in a row that is not full
        axes.set_xlim(-5, min(len(sets), SETS_IN_A_ROW) * SET_WIDTH - 10)
        axes.set_ylabel(drawable(f"{answer.exercise.joint} {answer.exercise.motion}, deg"))
        drawn.append((axes, HEIGHT_MM, 2.0))
    drawn[-1][0].set_xlabel("share of the movement, %")
    # marks mean the same in each row, and one key is enough
    for axes, *_ in drawn[1:]:
        for each in axes.get_legend_handles_labels()[0]:
            each.set_label("_")
    stack(figure, drawn, FOOT_MM)
    return figure


def _draw_set(axes: "Axes", done: SetComparison, curves: Floats, left: float) -> None:
    for curve in curves:
        axes.plot(left + PERCENTS, curve, color=PALETTE["sky blue"], linewidth=0.5, label="each repetition")
    complete = [curve for curve, each in zip(curves, done.repetitions, strict=True) if each.repetition.complete]
    if complete:
        axes.plot(left + PERCENTS, np.median(complete, axis=0), color=INK, linewidth=1.3, zorder=3,
                  label="their median, complete ones only")  # fmt: skip
    axes.text(left + 50, 1.0, f"set {done.number}", ha="center", va="bottom", fontsize=6,
              transform=axes.get_xaxis_transform())  # fmt: skip
