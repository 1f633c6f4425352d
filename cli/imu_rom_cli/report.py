"""``imu-rom report``: the page that people read, from the folder of a result or of a course."""

from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path

import click

from imu_rom_cli.course_folder import course_document
from imu_rom_cli.options import FILE, day_in_words, progress, settings_option

__all__ = ["command"]

PAGE_BEGINS, PDF_BEGINS = b"<!DOCTYPE html>", b"%PDF"
NAMES = {"clinician": "report.html", "patient": "patient.html"}


@click.command(name="report")
@click.argument("folder", type=click.Path(path_type=Path), metavar="RESULT|FOLDER")
@click.option("--for", "reader", type=click.Choice(list(NAMES)), default="clinician", help="Who reads it.")
@click.option("--language", default="en", show_default=True, metavar="CODE", help="Of the patient's page: en or de.")
@click.option("--out", type=FILE, metavar="FILE", help="Write it there, not into the folder.")
@click.option("--pdf", "as_pdf", is_flag=True, help="Write it as tagged PDF; needs the extra 'pdf'.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier page.")
@click.option("--until", callback=day_in_words, metavar="DATE", help="Last day of a course.")
@settings_option
def command(
    folder: Path,
    reader: str,
    language: str,
    out: Path | None,
    as_pdf: bool,
    overwrite: bool,
    until: date | None,
    settings_file: Path | None,
) -> None:
    """Write the page of a session, or of a course of weeks, for people.

    RESULT is the folder that imu-rom analyse --out wrote: its result.json and angle.csv are all that is read. FOLDER is
    that of a course: its results are taken as they are; imu-rom progress analyses what is new. The patient's page is of
    one session and takes result.json alone.
    """
    # imported here so that --help loads no numpy
    from imu_rom.errors import CannotAnswerError, OutputError  # noqa: PLC0415
    from imu_rom.exchange.folder import whole_file  # noqa: PLC0415
    from imu_rom.exchange.folder_kind import folder_kind  # noqa: PLC0415

    kind = folder_kind(folder)
    if reader == "patient" and kind == "course":
        what = "is a course, and the patient's page is of one session"
        raise CannotAnswerError(what, where=str(folder), do="name the folder of one result")
    if reader == "clinician" and language != "en":
        raise click.UsageError("--language is of the patient's page: add --for patient")
    if kind == "result" and (until is not None or settings_file is not None):
        raise click.UsageError("--until and --settings are for the folder of a course")
    path = folder / NAMES[reader] if out is None else out
    if as_pdf:
        from imu_rom.report.pdf import need_weasyprint  # noqa: PLC0415

        need_weasyprint()
        path = path.with_suffix(".pdf") if out is None else out
    if path.exists() and not overwrite:
        advice = "name another file by --out, or add --overwrite to replace it"
        raise OutputError("exists already", where=str(path), do=advice)
    if kind == "course":
        blocks, files = _course(folder, settings_file, until, as_pdf=as_pdf)
    elif reader == "clinician":
        blocks, files = _session(folder, as_pdf=as_pdf)
    else:
        blocks, files = _patient(folder, language, as_pdf=as_pdf)
    begins = PDF_BEGINS if as_pdf else PAGE_BEGINS
    whole_file(path, blocks, replaces=begins if overwrite else b"", inputs=files)
    click.echo(f"Written to {path}.", err=True)


def _session(folder: Path, *, as_pdf: bool) -> tuple[Iterable[bytes], Sequence[Path]]:
    from imu_rom.exchange.kept_angle import read_result_folder  # noqa: PLC0415
    from imu_rom.report.page import page_blocks, page_content  # noqa: PLC0415

    with progress("Reading"):
        read = read_result_folder(folder)
    if as_pdf:
        from imu_rom.report.pdf import session_pdf  # noqa: PLC0415

        with progress("Writing"):
            return [session_pdf(read.document, read.traces)], read.files
    return page_blocks(page_content(read.document, read.traces)), read.files


def _patient(folder: Path, language: str, *, as_pdf: bool) -> tuple[Iterable[bytes], Sequence[Path]]:
    from imu_rom.exchange.result import read_result  # noqa: PLC0415
    from imu_rom.report.patient_page import patient_page, patient_page_bytes  # noqa: PLC0415

    file = folder / "result.json"
    page = patient_page(read_result(file), language)
    if as_pdf:
        from imu_rom.report.pdf import patient_pdf  # noqa: PLC0415

        with progress("Writing"):
            return [patient_pdf(page)], [file]
    return [patient_page_bytes(page)], [file]


def _course(
    folder: Path, settings_file: Path | None, until: date | None, *, as_pdf: bool
) -> tuple[Iterable[bytes], Sequence[Path]]:
    from imu_rom.report.course_page import course_page, course_page_blocks  # noqa: PLC0415

    with progress("Reading"):
        document = course_document(folder, settings_file, until, analyse=False)
    files = [folder / each.name for each in document.reading.inputs]
    if as_pdf:
        from imu_rom.report.pdf import course_pdf  # noqa: PLC0415

        with progress("Writing"):
            return [course_pdf(document)], files
    return course_page_blocks(course_page(document)), files
