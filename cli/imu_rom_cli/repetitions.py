"""``imu-rom repetitions``: sets, repetitions and tempo from one sensor, without a plan."""

from pathlib import Path

import click

from imu_rom_cli.options import FILE, ReadingOptions, load_settings, progress, reading_options, settings_option

__all__ = ["command"]


@click.command(name="repetitions")
@reading_options
@click.option("--sensor", metavar="POINT", help="Tracked point of the sensor, where there are several.")
@settings_option
@click.option("--csv", "csv_file", type=FILE, metavar="FILE.csv", help="Write the repetitions there, one a row.")
@click.option("--json", "json_file", type=FILE, metavar="FILE.json", help="Write sets and repetitions there.")
def command(
    reading: ReadingOptions,
    sensor: str | None,
    settings_file: Path | None,
    csv_file: Path | None,
    json_file: Path | None,
) -> None:
    """Count sets and repetitions from one sensor, with times and tempo: the segment's own movement, no joint angle.

    RECORDING is a _motion.tsv of a BIDS Motion triplet, a folder that holds exactly one, or a delimited file.
    """
    # imported here so that --help loads no numpy
    from imu_rom.exchange.folder import whole_file  # noqa: PLC0415
    from imu_rom.exchange.segment_tables import (  # noqa: PLC0415
        DOCUMENT_START,
        SEGMENT_COLUMNS,
        segment_document,
        segment_table,
    )
    from imu_rom.session import count_repetitions  # noqa: PLC0415
    from imu_rom.wording import segment_text  # noqa: PLC0415
    from imu_rom.wording.cautions import CAUTION  # noqa: PLC0415
    from imu_rom.wording.sentences import finding_lines  # noqa: PLC0415
    from imu_rom_cli.text_table import text_table  # noqa: PLC0415

    settings, _ = load_settings(settings_file)
    with progress("Reading and counting"):
        recording = reading.read(settings, distal=sensor)
        point, found = count_repetitions(recording, sensor, settings)
    parts = ["\n".join(segment_text.segment_sentences(found, point))]
    if found.sets:
        parts.append(text_table(segment_text.SEGMENT_SET_HEADINGS, segment_text.segment_set_rows(found)))
        parts.append(text_table(segment_text.SEGMENT_REPETITION_HEADINGS, segment_text.segment_repetition_rows(found)))
    parts.append("\n".join([*finding_lines(recording.findings), CAUTION]))
    inputs = reading.files
    if csv_file is not None:
        heading = ",".join(SEGMENT_COLUMNS).encode()
        whole_file(csv_file, [segment_table(found)], replaces=heading, inputs=inputs)
    if json_file is not None:
        document = segment_document(recording, point, found)
        whole_file(json_file, [document], replaces=DOCUMENT_START, inputs=inputs)
    click.echo("\n\n".join(parts))
    for written in (csv_file, json_file):
        if written is not None:
            click.echo(f"Written to {written}.", err=True)
