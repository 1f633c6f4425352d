"""``imu-rom compare-reference``: a session's angle against another measurement of the same joint."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from imu_rom_cli.options import FILE, ReadingOptions, load_settings, progress, reading_options, settings_option
from imu_rom_cli.stretch_options import Stretch, neutral_option

if TYPE_CHECKING:
    from imu_rom.recording.model import InputFile, Recording, ReferenceChannel
    from imu_rom.session.reference_result import ReferenceComparison
    from imu_rom.session.result import SessionResult

__all__ = ["command"]


@click.command(name="compare-reference")
@reading_options
@click.option("--plan", "plan_file", required=True, type=FILE, metavar="PLAN.toml", help="What was prescribed.")
@click.option("--stage", metavar="NAME", help="Stage of the plan that held; else that of the recording's day.")
@neutral_option("auto")
@click.option(
    "--reference",
    required=True,
    metavar="CHANNEL|FILE",
    help="A JNTANG channel of the recording, or a file with the columns time_s and angle_deg.",
)
@click.option("--lag", "lag_s", type=float, metavar="S", help="How much later the reference is; else found.")
@click.option(
    "--largest-lag",
    "largest_lag_s",
    type=click.FloatRange(0, 600),
    default=2.0,
    show_default=True,
    metavar="S",
    help="Lags up to this are tried.",
)
@click.option("--turned", is_flag=True, help="The reference counts against the exercise's motion.")
@settings_option
@click.option("--out", type=FILE, metavar="FOLDER", help="Write reference.json and reference.html there.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier comparison in FOLDER.")
@click.option("--json", "as_json", is_flag=True, help="Print reference.json instead of sentences.")
def command(
    reading: ReadingOptions,
    plan_file: Path,
    stage: str | None,
    neutral: str | Stretch,
    reference: str,
    lag_s: float | None,
    largest_lag_s: float,
    turned: bool,
    settings_file: Path | None,
    out: Path | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Hold a session's angle against another measurement of the same joint, such as optical motion capture.

    RECORDING is as for analyse. The reference has no part in the session's answer.
    """
    # imported here so that --help loads no numpy
    from imu_rom.dose.assignment import sensors_meant  # noqa: PLC0415
    from imu_rom.dose.plan_file import plan_sha256, read_plan  # noqa: PLC0415
    from imu_rom.exchange.folder import check_destination  # noqa: PLC0415
    from imu_rom.exchange.plain_values import rounded  # noqa: PLC0415
    from imu_rom.exchange.reference import REFERENCE_FILES  # noqa: PLC0415
    from imu_rom.recording.model import InputFile  # noqa: PLC0415
    from imu_rom.session import analyse  # noqa: PLC0415
    from imu_rom.session.reference import compare_with_reference  # noqa: PLC0415

    if overwrite and out is None:
        raise click.UsageError("--overwrite needs --out FOLDER")
    if out is not None:
        check_destination(out, overwrite=overwrite, files=REFERENCE_FILES)
    settings, inputs = load_settings(settings_file)
    plan = read_plan(plan_file, largest_mb=settings.reading.largest_plan_mb)
    with progress("Reading and comparing"):
        proximal, distal = sensors_meant(plan, stage, None)
        recording = reading.read(settings, proximal=proximal, distal=distal)
        channel, files = _reference(reference, recording, settings.reading.largest_file_mb)
        digest = plan_sha256(plan_file, largest_mb=settings.reading.largest_plan_mb)
        session = analyse(
            recording,
            plan,
            stage=stage,
            neutral=None if isinstance(neutral, str) else neutral,
            settings=settings,
            inputs=(InputFile(plan_file.name, digest, "plan"), *inputs, *files),
        )
        found = rounded(
            compare_with_reference(session, channel, lag_s=lag_s, largest_lag_s=largest_lag_s, turned=turned)
        )
    _tell(session, found, out=out, overwrite=overwrite, as_json=as_json)


def _reference(
    named: str, recording: "Recording", largest_mb: float
) -> "tuple[ReferenceChannel, tuple[InputFile, ...]]":
    """Take the channel of that name, else the file."""
    from imu_rom.errors import RecordingError  # noqa: PLC0415
    from imu_rom.recording.reference_file import read_reference_file  # noqa: PLC0415

    channels = {each.name: each for each in recording.references}
    if named in channels:
        return channels[named], ()
    path = Path(named)
    if not path.is_file():
        has = f"the recording's JNTANG channels are {', '.join(channels)}" if channels else "it has no JNTANG channel"
        raise RecordingError(
            f"is neither a channel of the recording nor a file; {has}", where=named, do="name one of these or a file"
        )
    channel, file = read_reference_file(path, recording, largest_mb=largest_mb)
    return replace(channel, tracked_point="reference"), (file,)


def _tell(
    session: "SessionResult",
    found: "tuple[ReferenceComparison, ...]",
    *,
    out: Path | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    from imu_rom.exchange.folder import whole_folder  # noqa: PLC0415
    from imu_rom.exchange.reference import REFERENCE_FILES, write_reference  # noqa: PLC0415
    from imu_rom.wording import reference_text  # noqa: PLC0415
    from imu_rom_cli.text_table import text_table  # noqa: PLC0415

    layout = write_reference(session, found, reference_text.NOT_SHOWN, reference_text.REFERENCES)
    if out is not None:
        from imu_rom.report.reference_page import reference_page, reference_page_bytes  # noqa: PLC0415

        page = reference_page_bytes(reference_page(session, found))
        with whole_folder(out, overwrite=overwrite, files=REFERENCE_FILES) as folder:
            for name, content in zip(REFERENCE_FILES, (layout, page), strict=True):
                (folder / name).write_bytes(content)
    if as_json:
        click.echo(layout.decode(), nl=False)
    else:
        for each in found:
            click.echo("\n".join(reference_text.reference_sentences(each)))
            rows = reference_text.answer_rows(each)
            if rows:
                click.echo("\n" + text_table(reference_text.answer_headings(), rows))
        click.echo("\n" + "\n".join(reference_text.NOT_SHOWN))
    if out is not None:
        click.echo(f"Written to {out}.", err=True)
