"""Lines for a terminal: text folded at its width, with a label in a column of its own."""

import textwrap

__all__ = ["labelled", "wrapped"]

NARROWEST = 60


def wrapped(start: str, text: str, width: int, *, hang: int | None = None) -> list[str]:
    """Fold text behind what the first line starts with.

    Parameters
    ----------
    start : str
        Beginning of the first line.
    text : str
        What follows.
    width : int
        Columns of the terminal; fewer than 60 count as 60.
    hang : int, optional
        Columns by which further lines are indented; None: to below the text's first letter.

    Returns
    -------
    list of str
        Lines no longer than the width.
    """
    hanging = " " * (len(start) if hang is None else hang)
    return textwrap.wrap(
        text,
        width=max(width, NARROWEST),
        initial_indent=start,
        subsequent_indent=hanging,
        break_long_words=False,
        break_on_hyphens=False,
    )


def labelled(label: str, text: str, width: int, *, indent: int, column: int) -> list[str]:
    """Fold text behind a label.

    Parameters
    ----------
    label : str
        What the text is; may be empty where it goes on from the line before.
    text : str
        The text.
    width : int
        Columns of the terminal; fewer than 60 count as 60.
    indent : int
        Columns before the label.
    column : int
        Column at which the text begins.

    Returns
    -------
    list of str
        Lines no longer than the width.
    """
    return wrapped(f"{' ' * indent}{label} ".ljust(column), text, width)
