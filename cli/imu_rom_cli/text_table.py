"""Plain aligned tables for the terminal."""

from collections.abc import Sequence

__all__ = ["text_table"]

GAP = "  "


def _wrapped(heading: str, width: int) -> list[str]:
    lines = [""]
    for word in heading.split():
        if lines[-1] and len(lines[-1]) + 1 + len(word) > width:
            lines.append("")
        lines[-1] += (" " if lines[-1] else "") + word
    return lines


def text_table(headings: Sequence[str], rows: Sequence[Sequence[str]], words: Sequence[int] = ()) -> str:
    """Align cells under headings that wrap at words.

    Parameters
    ----------
    headings : sequence of str
        One a column.
    rows : sequence of sequence of str
        Cells; the last column is aligned left, all others right.
    words : sequence of int
        Other columns that are aligned left, counted from 0.

    Returns
    -------
    str
        Lines without blanks at their ends.
    """
    widths = [
        max([len(word) for word in heading.split()] + [len(row[column]) for row in rows])
        for column, heading in enumerate(headings)
    ]
    wrapped = [_wrapped(heading, width) for heading, width in zip(headings, widths, strict=True)]
    height = max(len(lines) for lines in wrapped)
    columns = [[""] * (height - len(lines)) + lines for lines in wrapped]
    table = [list(line) for line in zip(*columns, strict=True)]
    table.append(["-" * width for width in widths])
    table.extend([list(row) for row in rows])
    left = {*words, len(widths) - 1}
    return "\n".join(
        GAP.join(
            cell.ljust(width) if column in left else cell.rjust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in table
    )
