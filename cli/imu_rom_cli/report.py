"""``imu-rom report``: the page that people read, from the folder of a result."""

from pathlib import Path

import click

from imu_rom_cli.options import FILE, progress

__all__ = ["command"]

PAGE_BEGINS = b"<!DOCTYPE html>"
NAMES = {"clinician": "report.html", "patient": "patient.html"}


@click.command(name="report")
@click.argument("folder", type=click.Path(path_type=Path), metavar="RESULT")
@click.option("--for", "reader", type=click.Choice(list(NAMES)), default="clinician", help="Who reads it.")
@click.option("--out", type=FILE, metavar="FILE.html", help="Write it there, not into RESULT.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier page.")
def command(folder: Path, reader: str, out: Path | None, overwrite: bool) -> None:
    """Write the page of a session for people.

    RESULT is the folder that imu-rom analyse --out wrote: its result.json and angle.csv are all that is read.
    """
    # imported here so that --help loads no numpy
    from imu_rom.errors import CannotAnswerError, OutputError  # noqa: PLC0415
    from imu_rom.exchange.folder import whole_file  # noqa: PLC0415
    from imu_rom.exchange.folder_kind import folder_kind  # noqa: PLC0415

    kind = folder_kind(folder)
    if kind == "course" or reader == "patient":
        what = "of a course" if kind == "course" else "for the patient"
        raise CannotAnswerError(f"there is no page {what} yet", where=str(folder), do="use --for clinician on a result")
    from imu_rom.exchange.kept_angle import read_result_folder  # noqa: PLC0415
    from imu_rom.report.page import page_blocks, page_content  # noqa: PLC0415

    path = folder / NAMES[reader] if out is None else out
    if path.exists() and not overwrite:
        advice = "name another file by --out, or add --overwrite to replace it"
        raise OutputError("exists already", where=str(path), do=advice)
    with progress("Reading"):
        read = read_result_folder(folder)
    blocks = page_blocks(page_content(read.document, read.traces))
    whole_file(path, blocks, replaces=PAGE_BEGINS if overwrite else b"", inputs=read.files)
    click.echo(f"Written to {path}.", err=True)
