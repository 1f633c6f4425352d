"""A still picture of values with their intervals, one row each, as SVG coordinates; no script is needed to see it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["IntervalPlot", "PlotRow", "interval_plot"]

WIDTH = 640.0
LEFT, RIGHT, TOP = 190.0, 20.0, 12.0
ROW = 26.0
FOOT = 46.0
STEPS = (1.0, 2.0, 5.0)


@dataclass(frozen=True)
class PlotRow:
    """One row.

    Parameters
    ----------
    words : str
        What it is.
    x, y : float
        Where its mark is.
    low_x, high_x : float or None
        Ends of its interval.
    said : str
        The same in words, for those who can't see it.
    """

    words: str
    x: float
    y: float
    low_x: float | None
    high_x: float | None
    said: str


@dataclass(frozen=True)
class IntervalPlot:
    """The picture.

    Parameters
    ----------
    title, axis : str
        What it shows, and what its axis is.
    width, height, left, right, bottom : float
        Size, and the edges of the plot within it.
    rows : tuple of PlotRow
        From top to bottom.
    ticks : tuple of (float, str)
        Place and label.
    line_x : float
        The line that the values are compared with.
    band_x : tuple of (float, float) or None
        A band about it.
    description : str
        All of it in words.
    """

    title: str
    axis: str
    width: float
    height: float
    left: float
    right: float
    bottom: float
    rows: tuple[PlotRow, ...]
    ticks: tuple[tuple[float, str], ...]
    line_x: float
    band_x: tuple[float, float] | None
    description: str


def _step(span: float) -> float:
    """Choose a round distance between ticks, of which four to nine fit."""
    size: float = 10.0 ** math.floor(math.log10(span / 4.0))
    return size * max(step for step in STEPS if size * step <= span / 4.0)


def interval_plot(
    title: str,
    axis: str,
    rows: Sequence[tuple[str, float, float | None, float | None]],
    line: float,
    band: tuple[float, float] | None = None,
) -> IntervalPlot:
    """Lay the picture out.

    Parameters
    ----------
    title, axis : str
        What it shows, and what its axis is.
    rows : sequence of (str, float, float or None, float or None)
        Words, value and the ends of its interval, where there is one.
    line : float
        What the values are compared with.
    band : tuple of float, optional
        A band about it.

    Returns
    -------
    IntervalPlot
        Coordinates for the page.
    """
    values = [line, *(band or ()), *(each for row in rows for each in row[1:] if each is not None)]
    low, high = min(values), max(values)
    margin = 0.06 * (high - low) or 1.0
    low, high = low - margin, high + margin
    right = WIDTH - RIGHT

    def place(value: float) -> float:
        return float(round(LEFT + (value - low) / (high - low) * (right - LEFT), 1))

    step = _step(high - low)
    decimals = max(0, -math.floor(math.log10(step)))
    first, last = math.ceil(low / step), math.floor(high / step)
    bottom = TOP + ROW * len(rows)
    drawn = []
    for index, (words, value, start, stop) in enumerate(rows):
        between = "" if start is None or stop is None else f", between {start:.2f} and {stop:.2f}"
        drawn.append(
            PlotRow(
                words=words,
                x=place(value),
                y=TOP + ROW * (index + 0.5),
                low_x=None if start is None else place(start),
                high_x=None if stop is None else place(stop),
                said=f"{words}: {value:.2f}{between}",
            )
        )
    return IntervalPlot(
        title=title,
        axis=axis,
        width=WIDTH,
        height=bottom + FOOT,
        left=LEFT,
        right=right,
        bottom=bottom,
        rows=tuple(drawn),
        ticks=tuple((place(at * step), f"{at * step + 0.0:.{decimals}f}") for at in range(first, last + 1)),
        line_x=place(line),
        band_x=None if band is None else (place(band[0]), place(band[1])),
        description=f"{title}. {'; '.join(each.said for each in drawn)}.",
    )
