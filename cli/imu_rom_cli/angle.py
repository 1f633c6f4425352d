"""``imu-rom angle``: the joint angle over time with its uncertainty, without a plan."""

import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from imu_rom_cli.options import (
    FILE,
    ReadingOptions,
    check_two_points,
    load_settings,
    progress,
    reading_options,
    settings_option,
)
from imu_rom_cli.stretch_options import neutral_option

if TYPE_CHECKING:
    from imu_rom.session.result import AngleMeasurement

__all__ = ["command"]

HEADING = b"time_s,angle_deg,standard_uncertainty_deg,zero_standard_uncertainty_deg\n"


@click.command(name="angle")
@reading_options
@click.option("--proximal", required=True, metavar="POINT", help="Point of the proximal sensor; none if not worn.")
@click.option("--distal", required=True, metavar="POINT", help="Point of the distal sensor; none if not worn.")
@neutral_option("auto", "none")
@settings_option
@click.option("--out", type=FILE, metavar="FILE.csv", help="Write the angle there instead of to standard output.")
def command(
    reading: ReadingOptions,
    proximal: str,
    distal: str,
    neutral: str | tuple[float, float],
    settings_file: Path | None,
    out: Path | None,
) -> None:
    """Give the joint angle over time with its uncertainty, without a plan.

    RECORDING is a _motion.tsv of a BIDS Motion triplet, a folder that holds exactly one, or a delimited file.
    """
    # imported here so that --help loads no numpy
    from imu_rom.dose.exercise import ABSENT  # noqa: PLC0415
    from imu_rom.exchange.folder import whole_file  # noqa: PLC0415
    from imu_rom.exchange.tables import angle_table  # noqa: PLC0415
    from imu_rom.session import measure_angle  # noqa: PLC0415

    points = [None if each == ABSENT else each for each in (proximal, distal)]
    if points == [None, None]:
        raise click.UsageError("--proximal and --distal can't both be none")
    check_two_points(*points)
    settings, _ = load_settings(settings_file)
    with progress("Reading and measuring"):
        recording = reading.read(settings, proximal=points[0], distal=points[1])
        measured = measure_angle(
            recording, proximal, distal, neutral=None if neutral == "none" else neutral, settings=settings
        )
    table = angle_table(measured.trace, phases=False)
    joint = f"{proximal} to {distal}" if ABSENT not in (proximal, distal) else f"of {points[0] or points[1]} alone"
    told = "\n".join(_told(measured, joint))
    if out is not None:
        whole_file(out, table, replaces=HEADING, inputs=reading.files)
        click.echo(told)
        click.echo(f"Written to {out}.", err=True)
        return
    click.echo(told, err=True)
    try:
        sys.stdout.flush()
        sys.stdout.buffer.writelines(table)
        sys.stdout.buffer.flush()
    except BrokenPipeError:
        # whoever read the table has had enough of it
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _told(measured: "AngleMeasurement", joint: str) -> list[str]:
    """Say in sentences what the angle is."""
    from imu_rom.wording.angle_text import angle_sentences  # noqa: PLC0415
    from imu_rom.wording.cautions import CAUTION  # noqa: PLC0415
    from imu_rom.wording.sentences import finding_lines  # noqa: PLC0415

    return [*angle_sentences(measured, joint), *finding_lines(measured.findings), CAUTION]
