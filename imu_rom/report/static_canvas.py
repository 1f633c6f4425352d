"""Figures for papers without a browser: size of a journal's column, fonts embedded, the same bytes each time.

matplotlib (the extra ``figures``) draws on its own file backends; nothing of its ``pyplot`` is touched. Its settings
are those of the whole process while a figure is written, so figures are written one at a time.
"""

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any, Literal, get_args

from imu_rom.errors import MissingExtraError

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = [
    "COLUMN_MM",
    "FORMATS",
    "PRESCRIBED",
    "FigureFormat",
    "blank_figure",
    "drawable",
    "figure_bytes",
    "journal_style",
    "need_matplotlib",
]

FigureFormat = Literal["svg", "png", "pdf"]
FORMATS: tuple[FigureFormat, ...] = get_args(FigureFormat)

# one column of a journal: 80 to 90 mm (common practice, no source)
COLUMN_MM = 85.0
MM_PER_INCH = 25.4
# the middle one is where the words beside the axis end
LEFT_MM, LABEL_MM, RIGHT_MM = 14.0, 7.0, 2.0
ROW_GAP_MM = 3.0
KEY_LINE_MM, KEY_GAP_MM = 2.9, 1.2
CHARACTERS_OF_TWO_COLUMNS = 56
PRESCRIBED = "prescribed for these sessions"
PNG_DOTS_PER_INCH = 600
LONGEST_NAME = 40
MISSING_GLYPH = "\N{WHITE SQUARE}"

STYLE: dict[str, Any] = {
    "font.family": ["DejaVu Sans"],  # comes with matplotlib, so that every machine draws the same
    "font.size": 7,
    "axes.labelsize": 7,
    "axes.titlesize": 7,
    "axes.titlelocation": "left",
    "axes.linewidth": 0.6,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.axisbelow": True,
    "xtick.labelsize": 6.5,
    "ytick.labelsize": 6.5,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "xtick.major.size": 2.5,
    "ytick.major.size": 2.5,
    "legend.fontsize": 6,
    "legend.frameon": False,
    "legend.handlelength": 2.2,
    "legend.handletextpad": 0.5,
    "legend.columnspacing": 1.2,
    "legend.labelspacing": 0.3,
    "legend.borderaxespad": 0.2,
    "lines.linewidth": 0.8,
    "lines.markersize": 3,
    "hatch.linewidth": 0.5,
    "svg.fonttype": "path",
    "svg.hashsalt": "imu-rom",
    "pdf.fonttype": 42,  # TrueType, embedded
    "pdf.compression": 6,
    "path.simplify": False,
    "text.usetex": False,
    "text.parse_math": False,  # a name may hold a dollar sign
}
# what a file says of its making: no date, no version, so that the same figure gives the same bytes
METADATA: dict[FigureFormat, dict[str, str | None]] = {
    "svg": {"Date": None, "Creator": "imu-rom"},
    "pdf": {"CreationDate": None, "Creator": "imu-rom", "Producer": "imu-rom"},
    "png": {"Software": None},
}


def need_matplotlib() -> None:
    """Refuse to go on where matplotlib is not installed.

    Raises
    ------
    MissingExtraError
        It is not.
    """
    if find_spec("matplotlib") is None:
        raise MissingExtraError("figures for papers need matplotlib", do="pip install 'imu-rom[figures]'")


@contextmanager
def journal_style() -> Iterator[None]:
    """Set fonts, sizes and what makes the bytes the same, and set them back.

    Yields
    ------
    None
        While a figure is drawn and written.
    """
    import matplotlib as mpl  # noqa: PLC0415  an extra

    with mpl.rc_context():
        mpl.rcdefaults()
        mpl.rcParams.update(STYLE)  # type: ignore[arg-type]  # its names are checked when it is set
        yield


def blank_figure(width_mm: float = COLUMN_MM) -> "Figure":
    """Give an empty figure.

    Parameters
    ----------
    width_mm : float
        As wide as a column, or otherwise.

    Returns
    -------
    matplotlib.figure.Figure
        Belongs to no window and no global state; `stack` gives it its height.
    """
    from matplotlib.figure import Figure  # noqa: PLC0415  an extra

    return Figure(figsize=(width_mm / MM_PER_INCH, width_mm / MM_PER_INCH))


def stack(figure: "Figure", rows: Sequence[tuple["Axes", float, float]], foot_mm: float) -> None:
    """Place plots below each other, each with its key above it, and make the figure as high as that needs.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        As `blank_figure` gives it.
    rows : sequence of (axes, float, float)
        Each plot with all that is drawn in it, its height, and room between its key and it, in mm.
    foot_mm : float
        Room below the last one.
    """
    from matplotlib.transforms import blended_transform_factory  # noqa: PLC0415  an extra

    width_mm = float(figure.get_figwidth()) * MM_PER_INCH
    keys = [_key_of(axes, width_mm) for axes, *_ in rows]
    key_mm = [KEY_LINE_MM * -(-len(labels) // columns) + KEY_GAP_MM * bool(labels) for _, labels, columns in keys]
    height_mm = sum(height for _, height, _ in rows) + sum(room for *_, room in rows) + sum(key_mm) + foot_mm
    height_mm += ROW_GAP_MM * (len(rows) - 1)
    figure.set_size_inches(width_mm / MM_PER_INCH, height_mm / MM_PER_INCH)
    width = (width_mm - LEFT_MM - RIGHT_MM) / width_mm
    top_mm = height_mm
    for (axes, axes_mm, room_mm), (handles, labels, columns), above_mm in zip(rows, keys, key_mm, strict=True):
        bottom_mm = top_mm - above_mm - room_mm - axes_mm
        axes.set_position((LEFT_MM / width_mm, bottom_mm / height_mm, width, axes_mm / height_mm))
        axes.yaxis.set_label_coords(-(LEFT_MM - LABEL_MM) / (width * width_mm), 0.5)
        if labels:
            place = blended_transform_factory(figure.transFigure, axes.transAxes)
            where = (1.5 / width_mm, 1.0 + (room_mm + 0.5) / axes_mm)
            axes.legend(handles, labels, loc="lower left", bbox_to_anchor=where, bbox_transform=place, ncols=columns)
        top_mm = bottom_mm - ROW_GAP_MM


def _key_of(axes: "Axes", width_mm: float) -> tuple[list[Any], list[str], int]:
    """Each mark of a plot once, and in how many columns their words fit."""
    handles, labels = axes.get_legend_handles_labels()
    once = dict(zip(labels, handles, strict=True))
    words = sorted(once, key=lambda word: word == PRESCRIBED)
    half = -(-len(words) // 2)
    left, right = (max(map(len, part), default=0) for part in (words[:half], words[half:]))
    return (
        [once[word] for word in words],
        words,
        2 if left + right <= CHARACTERS_OF_TWO_COLUMNS * width_mm / COLUMN_MM and len(words) > 1 else 1,
    )


def figure_bytes(figure: "Figure", kind: FigureFormat) -> bytes:
    """Write a figure.

    Parameters
    ----------
    figure : matplotlib.figure.Figure
        What to write.
    kind : {"svg", "png", "pdf"}
        As what.

    Returns
    -------
    bytes
        The same figure gives the same bytes.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg  # noqa: PLC0415  an extra
    from matplotlib.backends.backend_pdf import FigureCanvasPdf  # noqa: PLC0415
    from matplotlib.backends.backend_svg import FigureCanvasSVG  # noqa: PLC0415

    canvas = {"svg": FigureCanvasSVG, "pdf": FigureCanvasPdf, "png": FigureCanvasAgg}[kind]
    file = io.BytesIO()
    if kind == "png":
        figure.set_dpi(PNG_DOTS_PER_INCH)
    getattr(canvas(figure), f"print_{kind}")(file, metadata=METADATA[kind])
    return file.getvalue()


def drawable(text: str) -> str:
    """Make a name fit a figure's key.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        One line of at most 40 characters; what the font has no glyph for is a square.
    """
    from matplotlib import font_manager, ft2font  # noqa: PLC0415  an extra

    known = ft2font.FT2Font(font_manager.findfont("DejaVu Sans")).get_charmap()
    line = " ".join(text.split())
    line = line if len(line) <= LONGEST_NAME else f"{line[: LONGEST_NAME - 1]}\N{HORIZONTAL ELLIPSIS}"
    return "".join(each if ord(each) in known and each.isprintable() else MISSING_GLYPH for each in line)
