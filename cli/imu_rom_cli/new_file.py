"""Text that a command writes for people to edit: printed, or into a file that must not exist yet."""

import os
from pathlib import Path

import click

__all__ = ["check_new_file", "tell_or_write"]


def check_new_file(out: Path | None, what: str) -> None:
    """Refuse a file that exists, before any work is done.

    Parameters
    ----------
    out : Path or None
        The file; None: nothing is written.
    what : str
        What would be written, with its article.

    Raises
    ------
    OutputError
        It exists.
    """
    from imu_rom.errors import OutputError  # noqa: PLC0415  so that --help loads no numpy

    if out is not None and os.path.lexists(out):
        raise OutputError(f"exists, and {what} is never written over a file", where=str(out), do="name another file")


def tell_or_write(out: Path | None, text: str) -> None:
    """Print text, or write it whole or not at all.

    Parameters
    ----------
    out : Path or None
        The file; None: print it.
    text : str
        All of it.

    Raises
    ------
    OutputError
        It can't be written there.
    """
    from imu_rom.exchange.folder import whole_file  # noqa: PLC0415  so that --help loads no numpy

    if out is None:
        click.echo(text, nl=False)
        return
    whole_file(out, [text.encode("utf-8")])
    click.echo(f"Written to {out}.", err=True)
