"""``imu-rom plan new``: write a plan to be edited from a published programme."""

import shutil
from datetime import date
from pathlib import Path
from typing import Literal

import click

from imu_rom_cli.new_file import check_new_file, tell_or_write
from imu_rom_cli.options import FILE, day_in_words

__all__ = ["new"]

WIDEST = 120


@click.command("new", short_help="Write a plan to be edited from a published programme; --list names them.")
@click.option("--list", "listed", is_flag=True, help="Name the published programmes, each with its citation.")
@click.option("--from", "protocol", metavar="PROTOCOL", help="The programme, by its name in the list.")
@click.option("--side", type=click.Choice(["left", "right"]), help="Side of the body.")
@click.option("--start", callback=day_in_words, metavar="DATE", help="First day, such as 2026-12-01.")
@click.option("--patient", metavar="PSEUDONYM", help="Such as P-0001; never a name.")
@click.option(
    "--own-range",
    type=float,
    metavar="DEG",
    help="How far that side goes by itself, for windows that are a share of it.",
)
@click.option("--out", type=FILE, metavar="FILE", help="Write it there instead of printing it; never over a file.")
def new(
    *,
    listed: bool,
    protocol: str | None,
    side: Literal["left", "right"] | None,
    start: date | None,
    patient: str | None,
    own_range: float | None,
    out: Path | None,
) -> None:
    """Write a commented plan from a published programme, with side, dates and person filled in.

    Read it, verify what it says is from memory, change what the person needs, and run imu-rom plan check.
    """
    # imported here so that --help loads no numpy
    from imu_rom.dose.protocol_catalogue import protocol_names, read_protocol  # noqa: PLC0415

    if listed:
        if any(each is not None for each in (protocol, side, start, patient, own_range, out)):
            raise click.UsageError("--list takes no other option")
        from imu_rom.wording.protocol_text import protocol_lines  # noqa: PLC0415

        width = min(shutil.get_terminal_size().columns, WIDEST)
        click.echo("\n".join(protocol_lines(tuple(map(read_protocol, protocol_names())), width)))
        return
    if protocol is None or side is None or start is None:
        missing = [
            name for name, value in (("--from", protocol), ("--side", side), ("--start", start)) if value is None
        ]
        raise click.UsageError(f"{' and '.join(missing)} must be given, or --list alone")
    from imu_rom.wording.new_plan import new_plan  # noqa: PLC0415

    check_new_file(out, "a plan")
    tell_or_write(out, new_plan(protocol, side=side, start=start, patient=patient, own_range_deg=own_range))
