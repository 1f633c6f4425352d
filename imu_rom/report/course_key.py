"""How the figures of a course tell things apart, on the page and on paper: colour, symbol and pattern, and the key."""

from collections.abc import Iterator
from dataclasses import dataclass

from imu_rom.report.angle_figure import INK, PALETTE
from imu_rom.report.course_figure import DAY_STATES, PAIN_SERIES, CourseFigure, DayState
from imu_rom.wording.figures import one_decimal

__all__ = ["DAY_STYLES", "PAIN_STYLES", "SOFT", "KeyEntry", "course_keys", "style_of"]

SOFT = "#767676"
# series -> (colour, symbol of its points, pattern of its bars)
SERIES_STYLES = (
    (PALETTE["blue"], "circle", ""),
    (PALETTE["orange"], "square", "/"),
    (PALETTE["green"], "diamond", "."),
    (PALETTE["purple"], "triangle-up", "x"),
    (PALETTE["sky blue"], "pentagon", "-"),
    (PALETTE["vermillion"], "star", "+"),
)
# state of a day -> (fill, pattern)
DAY_STYLES: dict[DayState, tuple[str, str]] = {
    "recorded": (PALETTE["blue"], ""),
    "ticked": (PALETTE["blue"], "/"),
    "said not done": (INK, "x"),
    "nothing known": ("#ffffff", ""),
}
# question about pain -> (colour, symbol, dash)
PAIN_STYLES = {
    "during": (PALETTE["blue"], "circle", "solid"),
    "after": (PALETTE["orange"], "square", "dot"),
    "next_morning": (INK, "diamond-open", "dash"),
}


@dataclass(frozen=True)
class KeyEntry:
    """One mark of the figure in words.

    Parameters
    ----------
    kind : str
        How it is drawn: a symbol, ``"bar"``, ``"area"``, ``"line"`` or ``"bracket"``.
    colour, pattern : str
        Its colour; and its hatching or dash, where it has one.
    words : str
        What it means.
    """

    kind: str
    colour: str
    pattern: str
    words: str


def style_of(series: int) -> tuple[str, str, str]:
    """Give how a series is drawn.

    Parameters
    ----------
    series : int
        Index of the figure's names.

    Returns
    -------
    tuple of str
        Colour, symbol of its points, pattern of its bars.
    """
    return SERIES_STYLES[series % len(SERIES_STYLES)]


def course_keys(figure: CourseFigure) -> tuple[tuple[str, tuple[KeyEntry, ...]], ...]:
    """Say what the marks of the figure mean.

    Parameters
    ----------
    figure : CourseFigure
        What is shown.

    Returns
    -------
    tuple of (str, tuple of KeyEntry)
        Heading and marks of each row of the figure that shows something.
    """
    states = {state for _, state in figure.days}
    days = [KeyEntry("bar", *DAY_STYLES[state], words) for state, words in DAY_STATES.items() if state in states]
    bars = {each.series for each in figure.exposure}
    exposure = [
        KeyEntry("bar", *style_of(series)[::2], f"{name}, with its 95 % interval")
        for series, name in enumerate(figure.names)
        if series in bars
    ]
    if any(each.asked is not None for each in figure.exposure):
        exposure.append(KeyEntry("bracket", INK, "", "prescribed for the recorded sessions alone"))
    pain = [
        KeyEntry(PAIN_STYLES[each.name][1], PAIN_STYLES[each.name][0], PAIN_STYLES[each.name][2], words)
        for each in figure.pain
        if (words := PAIN_SERIES[each.name]) and each.days
    ]
    pain.append(KeyEntry("line", PALETTE["vermillion"], "", f"above {figure.stop_above:g}: stop"))
    return tuple(
        (heading, tuple(entries))
        for heading, entries in (
            ("Days", days),
            ("Time past the compressive angle", exposure),
            ("Pain", pain),
            ("End range", list(_depth_key(figure))),
        )
        if entries
    )


def _depth_key(figure: CourseFigure) -> Iterator[KeyEntry]:
    shown = {each.series for each in figure.depths}
    for series, name in enumerate(figure.names):
        if series in shown:
            colour, symbol, _ = style_of(series)
            yield KeyEntry(symbol, colour, "", f"{name}, median of the day with its 95 % interval")
    if any(each.doubtful for each in figure.depths):
        yield KeyEntry("circle-open", INK, "", "open marks: the zero is in doubt")
    if any(each.window_low_deg is not None for each in figure.depths):
        yield KeyEntry("area", PALETTE["green"], "", "end range prescribed")
    if any(each.limit_deg is not None for each in figure.depths):
        yield KeyEntry("line", PALETTE["vermillion"], "", "limit, not to be passed")
    if figure.bands:
        least = max(each.half_deg for each in figure.bands)
        bound = any(each.lower_bound for each in figure.bands)
        yield KeyEntry(
            "area",
            SOFT,
            "dash" if bound else "",
            f"detectable change about the first recorded day: {'at least ' if bound else ''}{one_decimal(least)} deg",
        )
