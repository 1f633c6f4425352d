"""``imu-rom taping-check``: one person, taped several times, the same posture each time."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from imu_rom_cli.checks import check_output_options, check_place, tell_check
from imu_rom_cli.options import (
    ReadingOptions,
    check_two_points,
    load_settings,
    progress,
    settings_option,
    several_readings_options,
)
from imu_rom_cli.stretch_options import Stretch, parse_stretch

if TYPE_CHECKING:
    from imu_rom.session.taping_check import TapingCheck

__all__ = ["command"]


def _poses(ctx: click.Context, param: click.Parameter, value: tuple[str, ...]) -> tuple[tuple[Stretch, Stretch], ...]:
    poses = []
    for text in value:
        both = [parse_stretch(each) for each in text.split(",")]
        if len(both) != 2 or both[0] is None or both[1] is None:
            must = "must be the neutral pose and the posture, START:STOP,START:STOP in seconds such as 22:30,55:63"
            raise click.BadParameter(f"{must}, got {text!r}", ctx, param)
        poses.append((both[0], both[1]))
    return tuple(poses)


@click.command(name="taping-check")
@several_readings_options
@click.option("--proximal", required=True, metavar="POINT", help="Tracked point of the proximal sensor.")
@click.option("--distal", required=True, metavar="POINT", help="Tracked point of the distal sensor.")
@click.option(
    "--posture-angle",
    type=float,
    metavar="DEG",
    help="Angle of the posture from the joint's own zero, where it is known, such as that of the wedge.",
)
@click.option(
    "--posture-uncertainty", type=float, metavar="DEG", help="Standard uncertainty of --posture-angle, in degrees."
)
@click.option(
    "--poses",
    multiple=True,
    callback=_poses,
    metavar="START:STOP,START:STOP",
    help="Neutral pose and posture in seconds; once for each recording, in their order; else found.",
)
@settings_option
@check_output_options
def command(
    readings: tuple[ReadingOptions, ...],
    proximal: str,
    distal: str,
    posture_angle: float | None,
    posture_uncertainty: float | None,
    poses: tuple[tuple[Stretch, Stretch], ...],
    settings_file: Path | None,
    out: Path | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Work out how well the zero repeats when one person is taped again and again.

    Do this five times, taking the sensors off and taping them on anew each time. Start recording. The person stands in
    the neutral pose for ten seconds, moves the joint slowly three times as in an exercise, and then takes a posture
    that something firm sets, 10 degrees or more from neutral, for ten seconds: the foot flat on a wedge, with the shin
    against a board that stays where it is. Stop recording. The person should keep still that long in these two poses
    only.

    Each RECORDING is a _motion.tsv of a BIDS Motion triplet, a folder that holds exactly one, or a delimited file.
    """
    # imported here so that --help loads no numpy
    from imu_rom.exchange.check import rounded_check  # noqa: PLC0415
    from imu_rom.session.taping_check import check_tapings  # noqa: PLC0415

    if (posture_angle is None) != (posture_uncertainty is None):
        raise click.UsageError("--posture-angle and --posture-uncertainty belong together")
    check_two_points(proximal, distal)
    check_place(out, overwrite=overwrite)
    settings, inputs = load_settings(settings_file)
    with progress("Reading and checking"):
        recordings = [each.read(settings, proximal=proximal, distal=distal) for each in readings]
        check = check_tapings(
            recordings,
            proximal,
            distal,
            poses_s=poses,
            posture_deg=posture_angle,
            u_posture_deg=posture_uncertainty or 0.0,
            settings=settings,
            inputs=inputs,
        )
    check = rounded_check(check)
    tell_check(check, _told(check), out=out, overwrite=overwrite, as_json=as_json)


def _told(check: "TapingCheck") -> list[str]:
    from imu_rom.wording.taping_text import (  # noqa: PLC0415  so that --help loads no numpy
        NOT_SHOWN,
        taping_headings,
        taping_rows,
        taping_sentences,
    )
    from imu_rom_cli.text_table import text_table  # noqa: PLC0415

    return [
        text_table(taping_headings(), taping_rows(check)),
        "\n".join(taping_sentences(check)),
        " ".join(NOT_SHOWN),
    ]
