"""``imu-rom sensor-check``: both sensors on a straight edge at known angles."""

import math
from pathlib import Path
from typing import TYPE_CHECKING

import click

from imu_rom_cli.checks import check_output_options, check_place, tell_check
from imu_rom_cli.options import (
    ReadingOptions,
    check_two_points,
    load_settings,
    progress,
    reading_options,
    settings_option,
)
from imu_rom_cli.stretch_options import Stretch, parse_stretch

if TYPE_CHECKING:
    from imu_rom.session.sensor_check_result import SensorCheck

__all__ = ["command"]


def _angles(ctx: click.Context, param: click.Parameter, value: str) -> tuple[float, ...]:
    try:
        angles = tuple(float(each) for each in value.split(","))
    except ValueError:
        angles = (math.nan,)
    if not all(map(math.isfinite, angles)):
        raise click.BadParameter(f"must be angles in degrees such as 0,45,90, got {value!r}", ctx, param)
    return angles


def _stretches(ctx: click.Context, param: click.Parameter, value: str | None) -> tuple[Stretch, ...]:
    found = [] if value is None else [parse_stretch(each) for each in value.split(",")]
    if not all(found):
        must = "must be START:STOP in seconds for each angle, such as 2:9,15:22,30:38"
        raise click.BadParameter(f"{must}, got {value!r}", ctx, param)
    return tuple(each for each in found if each is not None)


@click.command(name="sensor-check")
@reading_options
@click.option("--angles", required=True, callback=_angles, metavar="DEG,DEG,...", help="Angles of the edge, in order.")
@click.option(
    "--reference-uncertainty",
    type=float,
    default=0.5,
    show_default=True,
    metavar="DEG",
    help="Standard uncertainty with which one angle was set, in degrees.",
)
@click.option(
    "--at", callback=_stretches, metavar="START:STOP,...", help="Where each angle is, in seconds; else found."
)
@click.option("--proximal", metavar="POINT", help="Tracked point of the proximal sensor, where there are several.")
@click.option("--distal", metavar="POINT", help="Tracked point of the distal sensor, where there are several.")
@settings_option
@check_output_options
def command(
    reading: ReadingOptions,
    angles: tuple[float, ...],
    reference_uncertainty: float,
    at: tuple[Stretch, ...],
    proximal: str | None,
    distal: str | None,
    settings_file: Path | None,
    out: Path | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Check both sensors on a straight edge that was set to known angles.

    Fix both sensors to one straight edge, such as a ruler, with tape that holds. Start recording, lay the edge on a
    level table (a spirit level shows it) and leave it alone for ten seconds. Then tilt it up along a set square to each
    of the other angles, and leave it alone for ten seconds in each. Or fix them to the two legs of a hinged square and
    turn one leg only.

    RECORDING is a _motion.tsv of a BIDS Motion triplet, a folder that holds exactly one, or a delimited file.
    """
    # imported here so that --help loads no numpy
    from imu_rom.exchange.check import rounded_check  # noqa: PLC0415
    from imu_rom.session.sensor_check import check_sensors  # noqa: PLC0415

    check_two_points(proximal, distal)
    check_place(out, overwrite=overwrite)
    settings, inputs = load_settings(settings_file)
    with progress("Reading and checking"):
        recording = reading.read(settings, proximal=proximal, distal=distal)
        check = check_sensors(
            recording,
            angles,
            u_reference_deg=reference_uncertainty,
            proximal=proximal,
            distal=distal,
            stretches_s=at,
            settings=settings,
            inputs=inputs,
        )
    check = rounded_check(check)
    tell_check(check, _told(check), out=out, overwrite=overwrite, as_json=as_json)


def _told(check: "SensorCheck") -> list[str]:
    from imu_rom.wording.sensor_check_text import (  # noqa: PLC0415  so that --help loads no numpy
        NOT_SHOWN,
        position_headings,
        position_rows,
        sensor_check_sentences,
    )
    from imu_rom_cli.text_table import text_table  # noqa: PLC0415

    return [
        text_table(position_headings(check), position_rows(check)),
        "\n".join(sensor_check_sentences(check)),
        " ".join(NOT_SHOWN),
    ]
