"""``imu-rom analyse``: a recorded session against its plan."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from imu_rom_cli.options import FILE, ReadingOptions, load_settings, progress, reading_options, settings_option
from imu_rom_cli.stretch_options import Stretch, exercise_option, neutral_option, second_pose_option

if TYPE_CHECKING:
    from imu_rom.dose.plan import Plan
    from imu_rom.exchange.document import ResultDocument
    from imu_rom.session.result import Mark, SessionResult

__all__ = ["command"]

# columns that the short table leaves to the page and the files
LEFT_OUT = ("partial", "hold, s")


@click.command(name="analyse")
@reading_options
@click.option("--plan", "plan_file", required=True, type=FILE, metavar="PLAN.toml", help="What was prescribed.")
@click.option("--stage", metavar="NAME", help="Stage of the plan that held; else that of the recording's day.")
@exercise_option
@neutral_option("auto")
@second_pose_option
@click.option("--recorded-at", metavar="TIME", help="When it was recorded, such as 2026-12-01T08:00:00+01:00.")
@settings_option
@click.option("--marks", "marks_file", type=FILE, metavar="FILE.json", help="Corrections made by hand.")
@click.option("--out", type=FILE, metavar="FOLDER", help="Write result.json, the tables and report.html there.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier result in FOLDER.")
@click.option("--json", "as_json", is_flag=True, help="Print result.json instead of the table.")
def command(
    reading: ReadingOptions,
    plan_file: Path,
    stage: str | None,
    exercise: tuple[tuple[str, Stretch | None], ...],
    neutral: str | Stretch,
    second_pose: Stretch | None,
    recorded_at: str | None,
    settings_file: Path | None,
    marks_file: Path | None,
    out: Path | None,
    overwrite: bool,
    as_json: bool,
) -> None:
    """Compare a recorded session with its plan, per set and repetition.

    RECORDING is a _motion.tsv of a BIDS Motion triplet, a folder that holds exactly one, or a delimited file.
    """
    # imported here so that --help loads no numpy
    from imu_rom.dose.plan_file import read_plan  # noqa: PLC0415
    from imu_rom.exchange.document import result_document  # noqa: PLC0415
    from imu_rom.exchange.folder import check_destination  # noqa: PLC0415

    if overwrite and out is None:
        raise click.UsageError("--overwrite needs --out FOLDER")
    if out is not None:
        check_destination(out, overwrite=overwrite)
    settings, _ = load_settings(settings_file)
    plan = read_plan(plan_file, largest_mb=settings.reading.largest_plan_mb)
    with progress("Reading and analysing"):
        session = _analysed(
            reading, plan, plan_file, stage, exercise, neutral, second_pose, recorded_at, settings_file, marks_file
        )
    document = result_document(session)
    if out is not None:
        with progress("Writing"):
            _write(out, session, document, overwrite=overwrite)
    if as_json:
        from imu_rom.exchange.result import write_result  # noqa: PLC0415

        click.echo(write_result(document), nl=False)
    else:
        click.echo(_told(document))
    if out is not None:
        click.echo(f"Written to {out}.", err=True)


def _analysed(
    reading: ReadingOptions,
    plan: "Plan",
    plan_file: Path,
    stage: str | None,
    exercise: tuple[tuple[str, Stretch | None], ...],
    neutral: str | Stretch,
    second_pose: Stretch | None,
    recorded_at: str | None,
    settings_file: Path | None,
    marks_file: Path | None,
) -> "SessionResult":
    from imu_rom.dose.assignment import sensors_meant  # noqa: PLC0415
    from imu_rom.dose.plan_file import plan_sha256  # noqa: PLC0415
    from imu_rom.exchange.marks import read_marks  # noqa: PLC0415
    from imu_rom.recording.model import InputFile  # noqa: PLC0415
    from imu_rom.session import AskedPart, analyse  # noqa: PLC0415

    settings, inputs = load_settings(settings_file)
    names = {name for name, _ in exercise}
    # the plan's sensors help to read a file, as soon as it is clear which they are
    proximal, distal = sensors_meant(plan, stage, names.pop() if len(names) == 1 else None)
    recording = reading.read(
        settings,
        proximal=proximal,
        distal=distal,
        recorded_at=recorded_at,
    )
    marks: tuple[Mark, ...] = ()
    if marks_file is not None:
        marks, marks_input = read_marks(marks_file, recording.files)
        inputs = (*inputs, marks_input)
    digest = plan_sha256(plan_file, largest_mb=settings.reading.largest_plan_mb)
    return analyse(
        recording,
        plan,
        stage=stage,
        parts=[AskedPart(name, span_s) for name, span_s in exercise],
        neutral=None if isinstance(neutral, str) else neutral,
        second_pose=second_pose,
        settings=settings,
        marks=marks,
        inputs=(InputFile(plan_file.name, digest, "plan"), *inputs),
    )


def _write(out: Path, session: "SessionResult", document: "ResultDocument", *, overwrite: bool) -> None:
    from imu_rom.exchange.folder import whole_folder  # noqa: PLC0415
    from imu_rom.exchange.kept_angle import kept_traces  # noqa: PLC0415
    from imu_rom.exchange.result import write_result  # noqa: PLC0415
    from imu_rom.exchange.tables import angles_table, repetition_table, set_table  # noqa: PLC0415
    from imu_rom.report.page import page_blocks, page_content  # noqa: PLC0415

    traces = [each.trace for each in session.exercises]
    blocks = {
        "result.json": [write_result(document)],
        "repetitions.csv": [repetition_table(document.exercises)],
        "sets.csv": [set_table(document.exercises)],
        "angle.csv": angles_table(document.exercises, traces),
        "report.html": page_blocks(page_content(document, kept_traces(document.exercises, traces))),
    }
    with whole_folder(out, overwrite=overwrite) as folder:
        for file_name, content in blocks.items():
            with (folder / file_name).open("wb") as file:
                file.writelines(content)


def _told(document: "ResultDocument") -> str:
    """Put tables, sentences, findings and cautions together as text."""
    from imu_rom.wording.budget_text import budget_sentence  # noqa: PLC0415
    from imu_rom.wording.cautions import cautions  # noqa: PLC0415
    from imu_rom.wording.exercise_text import exercise_heading, set_sentences, total_sentence  # noqa: PLC0415
    from imu_rom.wording.sentences import finding_lines  # noqa: PLC0415
    from imu_rom.wording.set_table import set_headings, set_rows  # noqa: PLC0415
    from imu_rom_cli.text_table import text_table  # noqa: PLC0415

    parts = []
    for answer in document.exercises:
        headings = set_headings(answer.exercise)
        kept = [column for column, heading in enumerate(headings) if heading not in LEFT_OUT]
        rows = [[row[column] for column in kept] for row in set_rows(answer.exercise, answer.comparison)]
        u_deg = (answer.u_shared_deg**2 + answer.u_set_deg**2) ** 0.5
        heading = exercise_heading(answer.exercise, answer.allotment)
        parts += [
            f"{document.plan_title}: {heading}; intervals in brackets are 95 %",
            text_table([headings[column] for column in kept], rows),
            "\n".join(set_sentences(answer.exercise, answer.comparison, u_deg, answer.allotment)),
            total_sentence(answer.exercise, answer.comparison, answer.allotment),
            budget_sentence(answer.budget, joint=answer.exercise.angle_is_known),
        ]
    if document.findings:
        parts.append("\n".join(finding_lines(document.findings)))
    parts.append(" ".join(cautions()))
    return "\n\n".join(part for part in parts if part)
