"""A still picture of values with their intervals, one row each, as SVG coordinates; no script is needed to see it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = ["IntervalPlot", "PlotLayout", "PlotRow", "interval_plot"]

TOP, MARK, FOOT = 12.0, 26.0, 46.0
STEPS = (1.0, 2.0, 5.0)
CUT = "\N{HORIZONTAL ELLIPSIS}"


@dataclass(frozen=True)
class PlotRow:
    """One row.

    Parameters
    ----------
    words : str
        What it is, cut where it would not fit.
    x, y : float
        Where its mark is.
    low_x, high_x : float or None
        Ends of its interval.
    """

    words: str
    x: float
    y: float
    low_x: float | None
    high_x: float | None


@dataclass(frozen=True)
class PlotLayout:
    """The picture at one width.

    Parameters
    ----------
    name : str
        ``"wide"``: words stand to the left of their marks, or ``"narrow"``: above them.
    width, height, left, right, bottom : float
        Size, and the edges of the plot within it.
    words_x, words_rise : float
        Where words end (wide) or begin (narrow), and how far above the mark's centre their foot is.
    rows : tuple of PlotRow
        From top to bottom.
    ticks : tuple of (float, str)
        Place and label.
    line_x : float
        The line that the values are compared with.
    band_x : tuple of (float, float) or None
        A band about it.
    """

    name: str
    width: float
    height: float
    left: float
    right: float
    bottom: float
    words_x: float
    words_rise: float
    rows: tuple[PlotRow, ...]
    ticks: tuple[tuple[float, str], ...]
    line_x: float
    band_x: tuple[float, float] | None


@dataclass(frozen=True)
class IntervalPlot:
    """The picture, of which a screen shows the layout that fits it.

    Parameters
    ----------
    title, axis : str
        What it shows, and what its axis is.
    description : str
        All of it in words.
    layouts : tuple of PlotLayout
        Wide, for a desk and paper, and narrow, for a phone.
    """

    title: str
    axis: str
    description: str
    layouts: tuple[PlotLayout, PlotLayout]


@dataclass(frozen=True)
class _Shape:
    """What is fixed of a layout: sizes in the units of its own picture, and how many letters fit before a row."""

    name: str
    width: float
    left: float
    right: float
    words_height: float
    words_x: float
    words_rise: float
    letters: int
    most_ticks: int


WIDE = _Shape("wide", 640.0, 190.0, 620.0, 0.0, 180.0, -5.0, letters=21, most_ticks=9)
NARROW = _Shape("narrow", 340.0, 12.0, 328.0, 20.0, 6.0, 16.0, letters=40, most_ticks=6)


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
    said = []
    for words, value, start, stop in rows:
        between = "" if start is None or stop is None else f", between {start:.2f} and {stop:.2f}"
        said.append(f"{words}: {value:.2f}{between}")
    return IntervalPlot(
        title=title,
        axis=axis,
        description=f"{title}. {'; '.join(said)}.",
        layouts=(_laid_out(WIDE, rows, line, band), _laid_out(NARROW, rows, line, band)),
    )


def _laid_out(
    shape: _Shape,
    rows: Sequence[tuple[str, float, float | None, float | None]],
    line: float,
    band: tuple[float, float] | None,
) -> PlotLayout:
    values = [line, *(band or ()), *(each for row in rows for each in row[1:] if each is not None)]
    low, high = min(values), max(values)
    margin = 0.06 * (high - low) or 1.0
    low, high = low - margin, high + margin

    def place(value: float) -> float:
        return float(round(shape.left + (value - low) / (high - low) * (shape.right - shape.left), 1))

    step = _step(high - low)
    decimals = max(0, -math.floor(math.log10(step)))
    first, last = math.ceil(low / step), math.floor(high / step)
    every = 1 if last - first < shape.most_ticks else 2
    row_height = MARK + shape.words_height
    bottom = TOP + row_height * len(rows)
    return PlotLayout(
        name=shape.name,
        width=shape.width,
        height=bottom + FOOT,
        left=shape.left,
        right=shape.right,
        bottom=bottom,
        words_x=shape.words_x,
        words_rise=shape.words_rise,
        rows=tuple(
            PlotRow(
                words=words if len(words) <= shape.letters else words[: shape.letters - 1] + CUT,
                x=place(value),
                y=TOP + row_height * index + shape.words_height + MARK / 2,
                low_x=None if start is None else place(start),
                high_x=None if stop is None else place(stop),
            )
            for index, (words, value, start, stop) in enumerate(rows)
        ),
        # where only every other fits, nought is among those that stay
        ticks=tuple(
            (place(at * step), f"{at * step + 0.0:.{decimals}f}") for at in range(first, last + 1) if at % every == 0
        ),
        line_x=place(line),
        band_x=None if band is None else (place(band[0]), place(band[1])),
    )
