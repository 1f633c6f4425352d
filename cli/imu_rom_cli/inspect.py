"""``imu-rom inspect``: what is in a recording."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from imu_rom_cli.options import ReadingOptions, load_settings, progress, reading_options, settings_option

if TYPE_CHECKING:
    from imu_rom.recording.model import Recording

__all__ = ["command"]


@click.command(name="inspect")
@reading_options
@click.option("--proximal", metavar="POINT", help="Tracked point of the proximal sensor, where there are several.")
@click.option("--distal", metavar="POINT", help="Tracked point of the distal sensor, where there are several.")
@settings_option
def command(reading: ReadingOptions, proximal: str | None, distal: str | None, settings_file: Path | None) -> None:
    """Say what is in a recording: sensors, rate, duration, still stretches with their inclinations, findings.

    RECORDING is a _motion.tsv of a BIDS Motion triplet, a folder that holds exactly one, or a delimited file.
    """
    # imported here so that --help loads no numpy
    from imu_rom.session import still_stretches  # noqa: PLC0415
    from imu_rom.wording.angle_text import recording_sentences, still_headings, still_rows  # noqa: PLC0415
    from imu_rom.wording.sentences import finding_lines  # noqa: PLC0415
    from imu_rom_cli.text_table import text_table  # noqa: PLC0415

    settings, _ = load_settings(settings_file)
    with progress("Reading"):
        recording = reading.read(settings, proximal=proximal, distal=distal)
        pair = _pair(recording, proximal, distal)
        still = () if pair is None else still_stretches(recording, *pair, settings=settings)
    parts = ["\n".join(recording_sentences(recording))]
    if pair is None:
        parts.append("Still stretches need one sensor or two different ones.")
    elif still:
        parts.append(
            "Still stretches; inclinations are those of the sensors' own z axes from the vertical\n"
            + text_table(still_headings(*pair), still_rows(still))
        )
    else:
        parts.append(f"No stretch in which {pair[0]} and {pair[1]} both keep still.")
    parts.append("\n".join(finding_lines(recording.findings)) or "No findings.")
    click.echo("\n\n".join(parts))


def _pair(recording: "Recording", proximal: str | None, distal: str | None) -> tuple[str, str] | None:
    """Give the two sensors that are looked at: those named, else the first two; of one alone it and none."""
    from imu_rom.dose.exercise import ABSENT  # noqa: PLC0415

    for point in (proximal, distal):
        if point is not None:
            recording.sensor(point)
    named = [proximal, distal]
    others = [point for point in recording.sensors if point not in named]
    chosen = [point if point is not None or not others else others.pop(0) for point in named]
    if len(recording.sensors) == 1:
        return (chosen[0], ABSENT) if chosen[0] is not None else (ABSENT, str(chosen[1]))
    if chosen[0] is None or chosen[1] is None or chosen[0] == chosen[1]:
        return None
    return chosen[0], chosen[1]
