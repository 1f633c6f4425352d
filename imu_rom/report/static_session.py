"""Figures of a session for papers: its angle over time, and its end ranges repetition by repetition."""

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from imu_rom.dose.exercise import Exercise
from imu_rom.exchange.document import ExerciseAnswer
from imu_rom.report.angle_figure import INK, PALETTE, REPETITION_STYLES, angle_figure, held_deg, status_of
from imu_rom.report.static_canvas import COLUMN_MM, blank_figure, drawable, stack
from imu_rom.session.result import AngleTrace
from imu_rom.wording.figures import window

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["angle_drawing", "draw_asked", "repetition_drawing"]

Floats = NDArray[np.float64]

HEIGHT_MM, FOOT_MM = 48.0, 9.0
COLUMNS = 1200
COVERAGE_FACTOR = 1.96
NOTHING_KNOWN_DEG = 90.0
# symbols of the page -> (marker, filled)
MARKERS = {
    "circle": ("o", True),
    "circle-open": ("o", False),
    "triangle-down": ("v", True),
    "diamond-open": ("D", False),
    "x": ("X", True),
    "cross-thin-open": ("+", False),
}


def _least_and_most(time_s: Floats, values: Floats, columns: int) -> tuple[Floats, Floats]:
    """Reduce samples to the lowest and the highest of each column, in their order, so that no peak is lost."""
    bucket = max(1, math.ceil(len(values) / columns))
    if bucket <= 2:
        return time_s, values
    keep = set()
    for start in range(0, len(values), bucket):
        part = values[start : start + bucket]
        seen = np.flatnonzero(np.isfinite(part))
        if len(seen):
            keep |= {start + int(seen[np.argmin(part[seen])]), start + int(seen[np.argmax(part[seen])])}
        else:
            keep.add(start)
    places = np.array(sorted(keep))
    return time_s[places], values[places]


def angle_drawing(answer: ExerciseAnswer, trace: AngleTrace, width_mm: float = COLUMN_MM) -> "Figure":
    """Draw the angle over time.

    Parameters
    ----------
    answer : ExerciseAnswer
        The exercise's answer.
    trace : AngleTrace
        Its angle over time.
    width_mm : float
        How wide it is.

    Returns
    -------
    matplotlib.figure.Figure
        With window, limit, compressive angle, 95 % interval, phases and repetitions.
    """
    data = angle_figure(answer, trace).data
    figure = blank_figure(width_mm)
    axes = figure.add_subplot()
    known = trace.standard_uncertainty_deg < NOTHING_KNOWN_DEG
    time_s = np.asarray(trace.time_s, dtype=np.float64)
    half = np.where(known, COVERAGE_FACTOR * trace.standard_uncertainty_deg, 0.0)
    angle = np.asarray(trace.angle_deg, dtype=np.float64)
    seconds, low = _least_and_most(time_s, angle - half, COLUMNS)
    seconds_high, high = _least_and_most(time_s, angle + half, COLUMNS)
    axes.plot(*_least_and_most(time_s, angle, COLUMNS), color=PALETTE["blue"], linewidth=0.5, label="angle")
    axes.fill_between(seconds, low, np.interp(seconds, seconds_high, high), color=PALETTE["sky blue"], alpha=0.45,
                      linewidth=0, label="its 95 % interval")  # fmt: skip
    draw_asked(axes, answer.exercise)
    groups: dict[str, tuple[list[float], list[float]]] = {}
    for each in (each for done in answer.comparison.sets for each in done.repetitions):
        at, depth = groups.setdefault(status_of(each), ([], []))
        at.append(each.repetition.end_range_s)
        depth.append(each.repetition.end_range_deg)
    _marks_by_status(axes, groups)
    bottom, top = data["vertical_deg"]
    for phase in data["phases"]:
        if phase["name"].startswith("set "):
            axes.axvspan(phase["start_s"], phase["stop_s"], color="#000000", alpha=0.06, linewidth=0)
            middle = (phase["start_s"] + phase["stop_s"]) / 2
            axes.text(middle, top, phase["name"], ha="center", va="top", fontsize=6)
        elif phase["name"] in {"neutral", "calibration"}:
            axes.axvspan(phase["start_s"], phase["stop_s"], facecolor="none", edgecolor="#8c8c8c", linewidth=0,
                         hatch="////" if phase["name"] == "neutral" else "....",
                         label={"neutral": "neutral pose"}.get(phase["name"], "calibration movement"))  # fmt: skip
    # what the sensors measure while they are put on and taken off is no angle of the joint
    worn = [each for each in data["phases"] if each["name"] != "setup"] or data["phases"]
    axes.set(xlim=(worn[0]["start_s"], worn[-1]["stop_s"]), ylim=(bottom, top), ylabel=drawable(data["motion"]),
             xlabel="time from the recording's start, s")  # fmt: skip
    stack(figure, [(axes, HEIGHT_MM, 0.0)], FOOT_MM)
    return figure


def _marks_by_status(axes: "Axes", groups: Mapping[str, tuple[list[float], list[float]]]) -> None:
    for status, (words, symbol, colour) in REPETITION_STYLES.items():
        if status in groups:
            marker, filled = MARKERS[symbol]
            axes.plot(*groups[status], linestyle="none", marker=marker, markersize=3, markeredgewidth=0.6, zorder=4,
                      markeredgecolor=INK, markerfacecolor=colour if filled else "#ffffff", label=words)  # fmt: skip


def draw_asked(axes: "Axes", exercise: Exercise, *, across: bool = True) -> None:
    """Draw window, limit and compressive angle.

    Parameters
    ----------
    axes : matplotlib.axes.Axes
        Where.
    exercise : Exercise
        What was prescribed.
    across : bool
        True where angles run upwards, False where they run to the right.
    """
    span, line = (axes.axhspan, axes.axhline) if across else (axes.axvspan, axes.axvline)
    if exercise.end_range_deg is not None:
        low, high = exercise.end_range_deg
        shown = high if math.isfinite(high) else low + 1000
        words = f"end range asked for: {window(low, high, 'deg')}"
        span(low, shown, facecolor=PALETTE["green"], alpha=0.22, linewidth=0, label=words, zorder=0.5)
        for edge in (low, high):
            if math.isfinite(edge):
                line(edge, color=PALETTE["green"], linewidth=0.5, linestyle="-", zorder=0.6)
    if exercise.compression_threshold is not None:
        threshold = exercise.compression_threshold
        words = f"compressive angle {threshold.deg:g} deg ({threshold.basis})"
        line(threshold.deg, color=INK, linewidth=0.9, linestyle="--", label=words, zorder=2)
    if exercise.limit_deg is not None:
        line(exercise.limit_deg, color=PALETTE["vermillion"], linewidth=1.3, label=f"limit {exercise.limit_deg:g} deg",
             zorder=2)  # fmt: skip


def repetition_drawing(answer: ExerciseAnswer, width_mm: float = COLUMN_MM) -> "Figure":
    """Draw the end range of each repetition with its interval.

    Parameters
    ----------
    answer : ExerciseAnswer
        The exercise's answer.
    width_mm : float
        How wide it is.

    Returns
    -------
    matplotlib.figure.Figure
        Set by set, against window, limit and compressive angle.
    """
    figure = blank_figure(width_mm)
    axes = figure.add_subplot()
    groups: dict[str, tuple[list[float], list[float]]] = {}
    ticks: list[tuple[int, str]] = []
    place = 0
    for done in answer.comparison.sets:
        first = place + 1
        for each in done.repetitions:
            place += 1
            axes.vlines(place, each.end_range_low_deg, each.end_range_high_deg, color=INK, linewidth=0.6, zorder=3)
            at, depth = groups.setdefault(status_of(each), ([], []))
            at.append(place)
            depth.append(each.repetition.end_range_deg)
            held = held_deg(answer.exercise, each.repetition)
            if held is not None:
                axes.plot([place], [held], linestyle="none", marker="_", markersize=4, color=INK,
                          markeredgewidth=0.9, zorder=5, label="held there, compared with the window")  # fmt: skip
            if each.number in {1, 5, 10, 15, 20, 25, 30}:
                ticks.append((place, str(each.number)))
        axes.text((first + place) / 2, 1.0, f"set {done.number}", ha="center", va="bottom", fontsize=6,
                  transform=axes.get_xaxis_transform())  # fmt: skip
        place += 2
        axes.axvline(place - 0.5, color="#c8c8c8", linewidth=0.6)
    draw_asked(axes, answer.exercise)
    _marks_by_status(axes, groups)
    axes.set_xticks([at for at, _ in ticks], [words for _, words in ticks])
    what = "end range" if answer.exercise.angle_is_known else "turn of the sensor"
    axes.set(xlim=(0, max(place - 1, 1)), xlabel="repetition, by set", ylabel=f"{what} with 95 % interval, deg")
    low, high = axes.get_ylim()
    highest = max((each.end_range_high_deg for done in answer.comparison.sets for each in done.repetitions), default=0)
    asked = [each for each in answer.exercise.end_range_deg or () if math.isfinite(each)]
    axes.set_ylim(low, min(high, max([highest, answer.exercise.limit_deg or highest, *asked]) + 6))
    stack(figure, [(axes, HEIGHT_MM, 3.0)], FOOT_MM)
    return figure
