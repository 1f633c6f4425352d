"""The figures of a course as the page's plotting script takes them: plain traces and a layout, all names escaped."""

import html
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any

from imu_rom.report.angle_figure import INK, PALETTE
from imu_rom.report.course_figure import (
    DAY_STATES,
    PAIN_SERIES,
    CourseFigure,
    DepthPoint,
    ExposureBar,
    StageSpan,
)
from imu_rom.report.course_key import DAY_STYLES, PAIN_STYLES, SOFT, KeyEntry, course_keys, style_of
from imu_rom.wording.course_figures import with_interval
from imu_rom.wording.figures import interval

__all__ = ["CoursePlot", "asked_spans", "course_plot"]

DAY_MS = 86_400_000
WEEK = timedelta(days=7)
# rows of the figure from above: share of its height
ROWS = {"days": (0.955, 0.985), "exposure": (0.685, 0.91), "pain": (0.38, 0.62), "depth": (0.0, 0.31)}


@dataclass(frozen=True)
class CoursePlot:
    """What the page needs to draw a course.

    Parameters
    ----------
    data : dict
        Traces, layout and stretches to look at, for the plotting script.
    keys : tuple of (str, tuple of KeyEntry)
        Heading and marks of each row of the figure.
    zooms : tuple of (str, str, str)
        Words, first and last moment of each stretch that the page offers to look at.
    description : str
        The figure in one sentence, for those who don't see it.
    """

    data: dict[str, Any]
    keys: tuple[tuple[str, tuple[KeyEntry, ...]], ...]
    zooms: tuple[tuple[str, str, str], ...]
    description: str


def course_plot(figure: CourseFigure) -> CoursePlot:
    """Lay out the figures of a course for the page.

    Parameters
    ----------
    figure : CourseFigure
        What they show.

    Returns
    -------
    CoursePlot
        The same figure gives the same values.
    """
    start, stop = _moment(figure.from_day), _moment(figure.until + timedelta(days=1))
    zooms = [("whole course", start, stop)]
    if (figure.until - figure.from_day).days >= 28:
        zooms.append(("last 4 weeks", _moment(figure.until - timedelta(days=27)), stop))
    zooms += [
        (f"stage {'none' if each.number is None else each.number} from {each.from_day}",
         _moment(each.from_day), _moment(each.to_day + timedelta(days=1)))
        for each in (figure.stages if len(figure.stages) > 1 else ())
    ]  # fmt: skip
    traces = [*_days(figure), *_exposure(figure), *_pain(figure), *_depth(figure)]
    return CoursePlot(
        data={"traces": traces, "layout": _layout(figure, start, stop)},
        keys=course_keys(figure),
        zooms=tuple(zooms),
        description=(
            f"Course from {figure.from_day} to {figure.until}: days recorded, ticked and missing; recorded time past "
            "the compressive angle by week; pain by day; end range by recorded day. The tables below hold the figures."
        ),
    )


def _moment(day: date, hour: int = 0) -> str:
    return datetime.combine(day, time(hour)).isoformat(timespec="minutes")


def _safe(text: str) -> str:
    """Escape what the plotting script would take for its own markup."""
    return html.escape(text, quote=False)


def _days(figure: CourseFigure) -> Iterator[dict[str, Any]]:
    for state, (colour, pattern) in DAY_STYLES.items():
        days = [day for day, found in figure.days if found == state]
        if days:
            yield {
                "type": "bar", "name": state, "xaxis": "x", "yaxis": "y",
                "x": [_moment(day, 12) for day in days], "y": [1] * len(days), "width": 0.86 * DAY_MS,
                "marker": _bar(colour, pattern, 0.6), "text": [f"{day}: {DAY_STATES[state]}" for day in days],
                "textposition": "none", "hovertemplate": "%{text}<extra></extra>",
            }  # fmt: skip


def _bar(colour: str, pattern: str, edge: float = 1.0) -> dict[str, Any]:
    marker: dict[str, Any] = {"color": colour, "line": {"width": edge, "color": INK}}
    if pattern:
        marker |= {
            "color": "#ffffff",
            "pattern": {"shape": pattern, "fgcolor": colour, "bgcolor": "#ffffff", "fillmode": "replace",
                        "size": 6, "solidity": 0.45},
        }  # fmt: skip
    return marker


def _exposure(figure: CourseFigure) -> Iterator[dict[str, Any]]:
    beside: dict[int, list[ExposureBar]] = {}
    for each in figure.exposure:
        beside.setdefault(each.week, []).append(each)
    for series, name in enumerate(figure.names):
        colour, _, pattern = style_of(series)
        bars = [(each, len(beside[each.week]), beside[each.week].index(each)) for each in figure.exposure]
        bars = [bar for bar in bars if bar[0].series == series]
        if not bars:
            continue
        places = [_within_week(each, count, place) for each, count, place in bars]
        yield {
            "type": "bar", "name": _safe(name), "xaxis": "x", "yaxis": "y2",
            "x": [middle for middle, _ in places], "width": [width for _, width in places],
            "y": [each.past_s.value for each, *_ in bars], "marker": _bar(colour, pattern),
            "error_y": {
                "type": "data", "symmetric": False, "color": INK, "thickness": 1.5, "width": 5,
                "array": [each.past_s.high - each.past_s.value for each, *_ in bars],
                "arrayminus": [each.past_s.value - each.past_s.low for each, *_ in bars],
            },
            "text": [_exposure_words(each, name) for each, *_ in bars], "textposition": "none",
            "hovertemplate": "%{text}<extra></extra>",
        }  # fmt: skip
    yield from _asked_brackets(beside)


def _within_week(bar: ExposureBar, count: int, place: int) -> tuple[str, float]:
    """Middle of a bar, and its width in milliseconds, among others of the same week."""
    width = 0.62 * 7 / count
    middle = datetime.combine(bar.from_day, time()) + timedelta(days=3.5 + (place - (count - 1) / 2) * width)
    return middle.isoformat(timespec="minutes"), 0.9 * width * DAY_MS


def _exposure_words(bar: ExposureBar, name: str) -> str:
    lines = [f"week {bar.week}, {_safe(name)}, {bar.sessions} recorded", f"{with_interval(bar.past_s)} s"]
    if bar.asked is not None:
        asked = interval(bar.asked.low_s, bar.asked.high_s)
        lines.append(f"prescribed for these sessions {asked} s: {bar.asked.answer}")
    return "<br>".join(lines)


def _asked_brackets(beside: dict[int, list[ExposureBar]]) -> Iterator[dict[str, Any]]:
    """Draw what was prescribed as an open bracket at the right of its bar, from the lowest to the highest seconds."""
    x: list[str | None] = []
    y: list[float | None] = []
    for bars in beside.values():
        for place, each in enumerate(bars):
            if each.asked is None:
                continue
            middle, width_ms = _within_week(each, len(bars), place)
            right = datetime.fromisoformat(middle) + timedelta(milliseconds=0.62 * width_ms)
            tip = right - timedelta(milliseconds=0.2 * width_ms)
            x += [moment.isoformat(timespec="minutes") for moment in (tip, right, right, tip)]
            y += [each.asked.low_s, each.asked.low_s, each.asked.high_s, each.asked.high_s]
            x.append(None)
            y.append(None)
    if x:
        yield {
            "type": "scatter", "mode": "lines", "xaxis": "x", "yaxis": "y2", "x": x, "y": y, "name": "prescribed",
            "line": {"color": INK, "width": 2.5}, "hoverinfo": "skip",
        }  # fmt: skip


def _pain(figure: CourseFigure) -> Iterator[dict[str, Any]]:
    # drawn a little apart, so that equal answers don't hide each other
    for each, hour in zip(figure.pain, (8, 12, 16), strict=True):
        colour, symbol, dash = PAIN_STYLES[each.name]
        x: list[str | None] = []
        y: list[float | None] = []
        text: list[str] = []
        before: date | None = None
        for day, value in zip(each.days, each.pain, strict=True):
            if before is not None and (day - before).days > 1:
                x.append(None)
                y.append(None)
                text.append("")
            x.append(_moment(day, hour))
            y.append(value)
            text.append(f"{day}, {PAIN_SERIES[each.name]}: {value:g} of 10")
            before = day
        if x:
            yield {
                "type": "scatter", "mode": "lines+markers", "xaxis": "x", "yaxis": "y3", "name": each.name,
                "x": x, "y": y, "text": text, "hovertemplate": "%{text}<extra></extra>", "connectgaps": False,
                "line": {"color": colour, "width": 1.5, "dash": dash},
                "marker": {"symbol": symbol, "color": colour, "size": 6, "line": {"width": 1, "color": INK}},
            }  # fmt: skip


def _depth(figure: CourseFigure) -> Iterator[dict[str, Any]]:
    for series, name in enumerate(figure.names):
        colour, symbol, _ = style_of(series)
        for doubtful in (False, True):
            points = [each for each in figure.depths if each.series == series and each.doubtful == doubtful]
            if points:
                yield {
                    "type": "scatter", "mode": "markers", "xaxis": "x", "yaxis": "y4", "name": _safe(name),
                    "x": [_moment(each.day, 12) for each in points],
                    "y": [each.end_range_deg.value for each in points],
                    "error_y": {
                        "type": "data", "symmetric": False, "color": colour, "thickness": 1.5, "width": 4,
                        "array": [each.end_range_deg.high - each.end_range_deg.value for each in points],
                        "arrayminus": [each.end_range_deg.value - each.end_range_deg.low for each in points],
                    },
                    "marker": {"symbol": f"{symbol}-open" if doubtful else symbol, "color": colour, "size": 9,
                               "line": {"width": 1.2, "color": colour if doubtful else INK}},
                    "text": [_depth_words(each, name) for each in points],
                    "hovertemplate": "%{text}<extra></extra>",
                }  # fmt: skip


def _depth_words(point: DepthPoint, name: str) -> str:
    lines = [f"{point.day}, {_safe(name)}", f"end range {with_interval(point.end_range_deg)} deg"]
    if point.window_low_deg is not None:
        high = "open" if point.window_high_deg is None else f"{point.window_high_deg:g}"
        lines.append(f"prescribed {point.window_low_deg:g} to {high} deg")
    if point.limit_deg is not None:
        lines.append(f"limit {point.limit_deg:g} deg")
    if point.doubtful:
        lines.append("the zero is in doubt")
    return "<br>".join(lines)


def asked_spans(figure: CourseFigure) -> Iterator[tuple[date, date, DepthPoint]]:
    """Give the stretches of days over which window and limit of an exercise stayed the same.

    Parameters
    ----------
    figure : CourseFigure
        What is shown.

    Yields
    ------
    tuple of (date, date, DepthPoint)
        First and last day, and one of its recorded days.
    """
    for stage in figure.stages:
        found: dict[tuple[object, ...], list[DepthPoint]] = {}
        for each in figure.depths:
            if stage.from_day <= each.day <= stage.to_day:
                asked = (each.series, each.window_low_deg, each.window_high_deg, each.limit_deg)
                found.setdefault(asked, []).append(each)
        for points in found.values():
            alone = sum(key[0] == points[0].series for key in found) == 1
            yield (
                stage.from_day if alone else points[0].day,
                stage.to_day if alone else points[-1].day,
                points[0],
            )


def _shapes(figure: CourseFigure) -> Iterator[dict[str, Any]]:
    bottom = ROWS["depth"][0]
    for index, stage in enumerate(figure.stages):
        x0, x1 = _moment(stage.from_day), _moment(stage.to_day + timedelta(days=1))
        if index % 2:
            yield _rectangle(x0, x1, bottom, ROWS["exposure"][1], "paper", "#000000", 0.05)
        if index:
            yield {
                "type": "line", "xref": "x", "yref": "paper", "x0": x0, "x1": x0, "y0": bottom, "y1": 1,
                "line": {"color": SOFT, "width": 1, "dash": "dot"},
            }  # fmt: skip
    highest = max((each.end_range_deg.high for each in figure.depths), default=0.0) + 10
    for first, last, asked in asked_spans(figure):
        x0, x1 = _moment(first), _moment(last + timedelta(days=1))
        if asked.window_low_deg is not None:
            high = highest if asked.window_high_deg is None else asked.window_high_deg
            yield _rectangle(x0, x1, asked.window_low_deg, high, "y4", PALETTE["green"], 0.25)
        if asked.limit_deg is not None:
            yield {
                "type": "line", "xref": "x", "yref": "y4", "x0": x0, "x1": x1, "y0": asked.limit_deg,
                "y1": asked.limit_deg, "line": {"color": PALETTE["vermillion"], "width": 2.5},
            }  # fmt: skip
    for band in figure.bands:
        for sign in (-1, 1):
            yield {
                "type": "line", "xref": "x", "yref": "y4", "x0": _moment(band.from_day),
                "x1": _moment(band.to_day + timedelta(days=1)), "y0": band.middle_deg + sign * band.half_deg,
                "y1": band.middle_deg + sign * band.half_deg,
                "line": {"color": SOFT, "width": 1.5, "dash": "dash" if band.lower_bound else "solid"},
            }  # fmt: skip
        low, high = band.middle_deg - band.half_deg, band.middle_deg + band.half_deg
        yield _rectangle(_moment(band.from_day), _moment(band.to_day + timedelta(days=1)), low, high, "y4", SOFT, 0.08)
    yield {
        "type": "line", "xref": "paper", "yref": "y3", "x0": 0, "x1": 1, "y0": figure.stop_above,
        "y1": figure.stop_above, "line": {"color": PALETTE["vermillion"], "width": 2.5},
    }  # fmt: skip


def _rectangle(x0: str, x1: str, y0: float, y1: float, reference: str, colour: str, opacity: float) -> dict[str, Any]:
    return {
        "type": "rect", "xref": "x", "yref": reference, "x0": x0, "x1": x1, "y0": y0, "y1": y1, "fillcolor": colour,
        "opacity": opacity, "line": {"width": 0}, "layer": "below",
    }  # fmt: skip


def _layout(figure: CourseFigure, start: str, stop: str) -> dict[str, Any]:
    axis = {"gridcolor": "#e6e6e6", "zeroline": False, "fixedrange": True, "automargin": False}
    row = {name: {**axis, "domain": list(domain)} for name, domain in ROWS.items()}
    asked = [0.0 if each.asked is None else each.asked.high_s for each in figure.exposure]
    most = max([1.0, *asked, *(each.past_s.high for each in figure.exposure)])
    return {
        "margin": {"l": 62, "r": 14, "t": 24, "b": 46},
        "paper_bgcolor": "#ffffff",
        "plot_bgcolor": "rgba(255,255,255,0)",
        "font": {"family": "system-ui, sans-serif", "size": 13, "color": INK},
        "showlegend": False,
        "hovermode": "closest",
        "dragmode": False,
        "barmode": "overlay",
        "xaxis": {
            "type": "date", "range": [start, stop], "anchor": "y4", "gridcolor": "#e6e6e6", "fixedrange": True,
            "tickformat": "%-d %b\n%Y", "nticks": 12,
        },
        "yaxis": {**row["days"], "range": [0, 1], "showticklabels": False, "showgrid": False},
        "yaxis2": {**row["exposure"], "range": [0, 1.08 * most], "title": {"text": "time past it, s"}},
        "yaxis3": {**row["pain"], "range": [-0.5, 10.5], "title": {"text": "pain, 0 to 10"}, "dtick": 2, "tick0": 0},
        "yaxis4": {**row["depth"], "title": {"text": "end range, deg"}, "zeroline": True, "zerolinecolor": "#808080"},
        "shapes": list(_shapes(figure)),
        "annotations": [*_stage_labels(figure.stages), *_row_titles()],
    }  # fmt: skip


def _stage_labels(stages: Iterable[StageSpan]) -> Iterator[dict[str, Any]]:
    for each in stages:
        yield {
            "x": _moment(each.from_day), "y": 1, "xref": "x", "yref": "paper", "xanchor": "left", "yanchor": "bottom",
            "text": f"<b>{'-' if each.number is None else each.number}</b>", "showarrow": False, "font": {"size": 13},
        }  # fmt: skip


def _row_titles() -> Iterator[dict[str, Any]]:
    for name, words in (
        ("exposure", "Time past the compressive angle, by week"),
        ("pain", "Pain, by day"),
        ("depth", "End range, by recorded day"),
    ):
        yield {
            "x": 0, "y": ROWS[name][1], "xref": "paper", "yref": "paper", "xanchor": "left", "yanchor": "bottom",
            "text": words, "showarrow": False, "font": {"size": 13},
        }  # fmt: skip
