"""What both checks share: where their file and page go."""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from imu_rom_cli.options import FILE

if TYPE_CHECKING:
    from imu_rom.session.sensor_check_result import SensorCheck
    from imu_rom.session.taping_check import TapingCheck

__all__ = ["check_output_options", "check_place", "tell_check"]

Command = TypeVar("Command", bound=Callable[..., Any])


def check_output_options(command: Command) -> Command:
    """Add ``--out``, ``--overwrite`` and ``--json``.

    Parameters
    ----------
    command : callable
        A command's function with parameters ``out``, ``overwrite`` and ``as_json``.

    Returns
    -------
    callable
        The decorated function.
    """
    for option in (
        click.option("--json", "as_json", is_flag=True, help="Print check.json instead of sentences."),
        click.option("--overwrite", is_flag=True, help="Replace an earlier check in FOLDER."),
        click.option("--out", type=FILE, metavar="FOLDER", help="Write check.json and check.html there."),
    ):
        command = option(command)
    return command


def check_place(out: Path | None, *, overwrite: bool) -> None:
    """Refuse a folder that can't take a check, before any work is spent on it.

    Parameters
    ----------
    out : Path or None
        Folder to be written.
    overwrite : bool
        True where an earlier check may be replaced.

    Raises
    ------
    OutputError
        It can't take a check.
    """
    from imu_rom.exchange.folder import CHECK_FILES, check_destination  # noqa: PLC0415

    if out is None:
        if overwrite:
            raise click.UsageError("--overwrite needs --out FOLDER")
        return
    check_destination(out, overwrite=overwrite, files=CHECK_FILES)


def tell_check(
    check: "SensorCheck | TapingCheck", told: list[str], *, out: Path | None, overwrite: bool, as_json: bool
) -> None:
    """Write file and page where they were asked for, and print.

    Parameters
    ----------
    check : SensorCheck or TapingCheck
        Rounded.
    told : list of str
        Paragraphs about it.
    out : Path or None
        Folder to be written.
    overwrite : bool
        True where an earlier check may be replaced.
    as_json : bool
        True: the file is printed instead of the paragraphs.

    Raises
    ------
    OutputError
        The folder can't be written.
    """
    from imu_rom.exchange.check import write_check  # noqa: PLC0415  so that --help loads no numpy
    from imu_rom.exchange.folder import CHECK_FILES, whole_folder  # noqa: PLC0415
    from imu_rom.wording.cautions import CAUTION  # noqa: PLC0415
    from imu_rom.wording.sentences import finding_lines  # noqa: PLC0415

    layout = write_check(check, (CAUTION,))
    if out is not None:
        from imu_rom.report.check_page import check_page, check_page_bytes  # noqa: PLC0415

        page = check_page_bytes(check_page(check))
        with whole_folder(out, overwrite=overwrite, files=CHECK_FILES) as folder:
            for name, content in zip(CHECK_FILES, (layout, page), strict=True):
                (folder / name).write_bytes(content)
    if as_json:
        click.echo(layout.decode(), nl=False)
    else:
        parts = [*told, "\n".join(finding_lines(check.findings)), CAUTION]
        click.echo("\n\n".join(each for each in parts if each))
    if out is not None:
        click.echo(f"Written to {out}.", err=True)
