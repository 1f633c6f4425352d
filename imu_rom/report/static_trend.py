"""The figures of a course for papers and print: days, exposure by week, pain, and end range, one below the other."""

from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING, Any

from imu_rom.report.angle_figure import INK, PALETTE
from imu_rom.report.course_figure import DAY_STATES, PAIN_SERIES, CourseFigure
from imu_rom.report.course_key import DAY_STYLES, PAIN_STYLES, SOFT, style_of
from imu_rom.report.course_plot import asked_spans
from imu_rom.report.static_canvas import COLUMN_MM, PRESCRIBED, blank_figure, drawable, stack

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["trend_drawing"]

# height of each row, and room between its key and it
ROWS_MM = {"days": (4.0, 3.5), "exposure": (30.0, 0.0), "pain": (28.0, 0.0), "depth": (38.0, 0.0)}
FOOT_MM = 9.0
STAGE_LINE_MM = 3.0
# symbols and patterns of the page -> matplotlib's
MARKERS = {"circle": "o", "square": "s", "diamond": "D", "triangle-up": "^", "pentagon": "p", "star": "*",
           "diamond-open": "D"}  # fmt: skip
HATCHES = {"": "", "/": "/////", ".": ".....", "x": "xxxxx", "-": "-----", "+": "+++++"}
DASHES = {"solid": "-", "dot": ":", "dash": "--"}
MOST_WEEKS_NAMED = 16


def trend_drawing(shown: CourseFigure, width_mm: float = COLUMN_MM) -> "Figure":
    """Draw a course.

    Parameters
    ----------
    shown : CourseFigure
        What the figure shows.
    width_mm : float
        How wide it is.

    Returns
    -------
    matplotlib.figure.Figure
        Four rows over the weeks of the course, stages as their background.
    """
    figure = blank_figure(width_mm)
    days, exposure, pain, depth = rows = figure.subplots(len(ROWS_MM), 1, sharex=True)
    _days(days, shown)
    _exposure(exposure, shown)
    _pain(pain, shown)
    _depth(depth, shown)
    for index, stage in enumerate(shown.stages):
        start, stop = _week(shown, stage.from_day), _week(shown, stage.to_day, 1.0)
        for axes in (exposure, pain, depth):
            if index % 2:
                axes.axvspan(start, stop, color="#000000", alpha=0.05, linewidth=0, zorder=0)
            if index:
                axes.axvline(start, color=SOFT, linewidth=0.5, linestyle=":", zorder=0.1)
        days.text(start, 1.05, "-" if stage.number is None else str(stage.number), ha="left", va="bottom", fontsize=6.5,
                  fontweight="bold")  # fmt: skip
    weeks = round((shown.until - shown.from_day).days // 7) + 1
    step = max(1, -(-weeks // MOST_WEEKS_NAMED))
    depth.set_xticks([week + 0.5 for week in range(0, weeks, step)], [str(week + 1) for week in range(0, weeks, step)])
    depth.set(xlim=(0, _week(shown, shown.until, 1.0)), xlabel=f"week from {shown.from_day}")
    names = dict.fromkeys((each.number, each.name) for each in shown.stages)
    stages = [f"stage {'-' if number is None else number}: {drawable(name)}" for number, name in names]
    stack(
        figure,
        [(axes, *size) for axes, size in zip(rows, ROWS_MM.values(), strict=True)],
        FOOT_MM + STAGE_LINE_MM * len(stages),
    )
    figure.text(1.5 / width_mm, 0.004, "\n".join(stages), fontsize=6, ha="left", va="bottom")
    return figure


def _week(shown: CourseFigure, day: date, share: float = 0.0) -> float:
    """Place of a day on the axis of weeks; a share of 1 is the day's end."""
    return ((day - shown.from_day).days + share) / 7


def _bar(colour: str, pattern: str) -> dict[str, Any]:
    if not pattern:
        return {"facecolor": colour, "edgecolor": INK, "linewidth": 0.4}
    return {"facecolor": "#ffffff", "edgecolor": colour, "hatch": HATCHES[pattern], "linewidth": 0.4}


def _days(axes: "Axes", shown: CourseFigure) -> None:
    for state, style in DAY_STYLES.items():
        found = [_week(shown, day, 0.5) for day, each in shown.days if each == state]
        if found:
            axes.bar(found, 1.0, width=0.86 / 7, label=DAY_STATES[state].split(":")[0], **_bar(*style))
    axes.set(ylim=(0, 1), yticks=[])
    axes.spines[:].set_visible(False)
    axes.tick_params(length=0)


def _exposure(axes: "Axes", shown: CourseFigure) -> None:
    beside: dict[int, list[int]] = {}
    for each in shown.exposure:
        beside.setdefault(each.week, []).append(each.series)
    for each in shown.exposure:
        colour, _, pattern = style_of(each.series)
        width = 0.62 / len(beside[each.week])
        shift = (beside[each.week].index(each.series) - (len(beside[each.week]) - 1) / 2) * width
        middle = _week(shown, each.from_day) + 0.5 + shift
        axes.bar(middle, each.past_s.value, width=0.9 * width, label=drawable(shown.names[each.series]),
                 **_bar(colour, pattern))  # fmt: skip
        axes.plot([middle, middle], [each.past_s.low, each.past_s.high], color=INK, linewidth=0.8, marker="_",
                  markersize=3)  # fmt: skip
        if each.asked is not None:
            right, tip = middle + 0.6 * width, middle + 0.46 * width
            axes.plot([tip, right, right, tip], [each.asked.low_s, each.asked.low_s, each.asked.high_s,
                      each.asked.high_s], color=INK, linewidth=1.4, label=PRESCRIBED)  # fmt: skip
    axes.set_ylim(bottom=0)
    axes.set_ylabel("recorded time past the\ncompressive angle, s")


def _pain(axes: "Axes", shown: CourseFigure) -> None:
    for each, share in zip(shown.pain, (0.35, 0.5, 0.65), strict=True):
        colour, symbol, dash = PAIN_STYLES[each.name]
        for days, values in _unbroken(zip(each.days, each.pain, strict=True)):
            axes.plot([_week(shown, day, share) for day in days], values, color=colour, linestyle=DASHES[dash],
                      marker=MARKERS[symbol], markersize=2.2, linewidth=0.6, markeredgewidth=0.4,
                      markerfacecolor="#ffffff" if symbol.endswith("open") else colour, markeredgecolor=INK,
                      label=PAIN_SERIES[each.name].replace(", placed", ","))  # fmt: skip
    axes.axhline(
        shown.stop_above, color=PALETTE["vermillion"], linewidth=1.2, label=f"above {shown.stop_above:g}: stop"
    )
    axes.set(ylim=(-0.4, 10.4), yticks=range(0, 11, 2), ylabel="pain, 0 to 10")


def _unbroken(answers: Iterable[tuple[date, float]]) -> list[tuple[list[date], list[float]]]:
    """Part the answers where a day has none."""
    found: list[tuple[list[date], list[float]]] = []
    for day, value in answers:
        if not found or (day - found[-1][0][-1]).days > 1:
            found.append(([], []))
        found[-1][0].append(day)
        found[-1][1].append(value)
    return found


def _depth(axes: "Axes", shown: CourseFigure) -> None:
    for each in shown.depths:
        colour, symbol, _ = style_of(each.series)
        at = _week(shown, each.day, 0.5)
        axes.plot([at, at], [each.end_range_deg.low, each.end_range_deg.high], color=INK, linewidth=0.6, zorder=3)
        axes.plot([at], [each.end_range_deg.value], linestyle="none", marker=MARKERS[symbol], markersize=3.2,
                  markeredgewidth=0.5, markeredgecolor=INK, markerfacecolor="#ffffff" if each.doubtful else colour,
                  label=f"{drawable(shown.names[each.series])}{', zero in doubt' if each.doubtful else ''}",
                  zorder=4)  # fmt: skip
    low, high = axes.get_ylim()
    for first, last, asked in asked_spans(shown):
        span = [_week(shown, first), _week(shown, last, 1.0)]
        if asked.window_low_deg is not None:
            top = high + 100 if asked.window_high_deg is None else asked.window_high_deg
            axes.fill_between(span, asked.window_low_deg, top, facecolor=PALETTE["green"], alpha=0.28, linewidth=0,
                              label="end range prescribed", zorder=1)  # fmt: skip
        if asked.limit_deg is not None:
            axes.plot(span, [asked.limit_deg] * 2, color=PALETTE["vermillion"], linewidth=1.3,
                      label="limit, not to be passed", zorder=2)  # fmt: skip
            high = max(high, asked.limit_deg + 2)
    for band in shown.bands:
        span = [_week(shown, band.from_day), _week(shown, band.to_day, 1.0)]
        ends = band.middle_deg - band.half_deg, band.middle_deg + band.half_deg
        axes.fill_between(span, *ends, facecolor="none", edgecolor=SOFT, linewidth=0.6, zorder=0.8,
                          linestyle="--" if band.lower_bound else "-", hatch="....",
                          label=f"detectable change{', at least' if band.lower_bound else ''}")  # fmt: skip
        low, high = min(low, ends[0] - 1), max(high, ends[1] + 1)
    axes.set(ylim=(low, high), ylabel="end range with\n95 % interval, deg")
