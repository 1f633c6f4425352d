"""Markdown of a text that holds other people's words: none of them becomes a heading, a link, a cell or a tag."""

from collections.abc import Iterable, Sequence

__all__ = ["as_text", "table"]

# what could begin something inside a line (CommonMark 0.31, section 2.4), and the bar between the cells of a table
_SPECIAL = {each: f"\\{each}" for each in "\\`*_{}[]#|~$="} | {"<": "&lt;", ">": "&gt;", "&": "&amp;"}


def as_text(words: str) -> str:
    """Escape words so that Markdown shows them as they are, on one line.

    Parameters
    ----------
    words : str
        Text that somebody else wrote.

    Returns
    -------
    str
        Without control characters and line ends.
    """
    line = " ".join("".join(each if each.isprintable() or each == " " else " " for each in words).split())
    return "".join(_SPECIAL.get(each, each) for each in line)


def table(headings: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Lay cells out as a Markdown table.

    Parameters
    ----------
    headings : sequence of str
        First line.
    rows : iterable of sequence of str
        Cells, escaped already.

    Returns
    -------
    str
        Lines with bars.
    """
    lines = [headings, ["---"] * len(headings), *rows]
    return "\n".join(f"| {' | '.join(each)} |" for each in lines)
