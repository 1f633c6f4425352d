"""``imu-rom report``: the page that people read, from the folder of a result or of a course."""

from collections.abc import Iterable, Sequence
from datetime import date
from pathlib import Path

import click

from imu_rom_cli.course_folder import course_document
from imu_rom_cli.options import FILE, day_in_words, load_settings, progress, settings_option

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
@click.option("--course", "of_course", type=click.Path(path_type=Path), metavar="FOLDER", help="Course of the RESULT.")
@click.option("--until", callback=day_in_words, metavar="DATE", help="Last day of a course.")
@settings_option
def command(
    folder: Path,
    reader: str,
    language: str,
    out: Path | None,
    as_pdf: bool,
    overwrite: bool,
    of_course: Path | None,
    until: date | None,
    settings_file: Path | None,
) -> None:
    """Write the page of a session, or of a course of weeks, for people.

    RESULT is the folder that imu-rom analyse --out wrote: its result.json and angle.csv are all that is read, and with
    --course the plan, diary and earlier results of its course: pain of that day, and what changed since the last
    review. FOLDER is that of a course: its results are taken as they are; imu-rom progress analyses what is new. The
    patient's page of a session takes result.json alone.
    """
    # imported here so that --help loads no numpy
    from imu_rom.errors import OutputError  # noqa: PLC0415
    from imu_rom.exchange.folder import whole_file  # noqa: PLC0415
    from imu_rom.exchange.folder_kind import folder_kind  # noqa: PLC0415

    kind = folder_kind(folder)
    if reader == "clinician" and language != "en":
        raise click.UsageError("--language is of the patient's page: add --for patient")
    if kind == "result" and (until is not None or (settings_file is not None and of_course is None)):
        raise click.UsageError("--until and --settings are for the folder of a course")
    if of_course is not None and (kind == "course" or reader == "patient"):
        raise click.UsageError("--course is for the clinician's page of a result")
    path = folder / NAMES[reader] if out is None else out
    if as_pdf:
        from imu_rom.report.pdf import need_weasyprint  # noqa: PLC0415

        need_weasyprint()
        path = path.with_suffix(".pdf") if out is None else out
    if path.exists() and not overwrite:
        advice = "name another file by --out, or add --overwrite to replace it"
        raise OutputError("exists already", where=str(path), do=advice)
    if kind == "course":
        blocks, files = _course(folder, settings_file, until, reader, language, as_pdf=as_pdf)
    elif reader == "clinician":
        blocks, files = _session(folder, of_course, settings_file, as_pdf=as_pdf)
    else:
        blocks, files = _patient(folder, language, as_pdf=as_pdf)
    begins = PDF_BEGINS if as_pdf else PAGE_BEGINS
    whole_file(path, blocks, replaces=begins if overwrite else b"", inputs=files)
    click.echo(f"Written to {path}.", err=True)


def _session(
    folder: Path, of_course: Path | None, settings_file: Path | None, *, as_pdf: bool
) -> tuple[Iterable[bytes], Sequence[Path]]:
    from imu_rom.course.of_session import course_of_session  # noqa: PLC0415
    from imu_rom.exchange.kept_angle import read_result_folder  # noqa: PLC0415
    from imu_rom.report.page import page_blocks, page_content  # noqa: PLC0415

    with progress("Reading"):
        read = read_result_folder(folder)
        settings, _ = load_settings(settings_file)
        course = None if of_course is None else course_of_session(of_course, read.document, settings)
    files = [*read.files, *(Path(of_course or "") / each.name for each in (course.inputs if course else ()))]
    if as_pdf:
        from imu_rom.report.pdf import session_pdf  # noqa: PLC0415

        with progress("Writing"):
            return [session_pdf(read.document, read.traces, course)], files
    return page_blocks(page_content(read.document, read.traces, course)), files


def _patient(folder: Path, language: str, *, as_pdf: bool) -> tuple[Iterable[bytes], Sequence[Path]]:
    from imu_rom.exchange.result import read_result  # noqa: PLC0415
    from imu_rom.report.patient_page import patient_page, patient_page_bytes  # noqa: PLC0415

    file = folder / "result.json"
    return _for_patient(patient_page_bytes(patient_page(read_result(file), language)), as_pdf=as_pdf), [file]


def _for_patient(page: bytes, *, as_pdf: bool) -> list[bytes]:
    if not as_pdf:
        return [page]
    from imu_rom.report.pdf import patient_pdf  # noqa: PLC0415

    with progress("Writing"):
        return [patient_pdf(page)]


def _course(
    folder: Path, settings_file: Path | None, until: date | None, reader: str, language: str, *, as_pdf: bool
) -> tuple[Iterable[bytes], Sequence[Path]]:
    from imu_rom.report.course_page import course_page, course_page_blocks  # noqa: PLC0415

    with progress("Reading"):
        document = course_document(folder, settings_file, until, analyse=False)
    files = [folder / each.name for each in document.reading.inputs]
    if reader == "patient":
        from imu_rom.report.patient_course_page import patient_course_page, patient_course_page_bytes  # noqa: PLC0415

        return _for_patient(
            patient_course_page_bytes(patient_course_page(document.answer, language)), as_pdf=as_pdf
        ), files
    if as_pdf:
        from imu_rom.report.pdf import course_pdf  # noqa: PLC0415

        with progress("Writing"):
            return [course_pdf(document)], files
    return course_page_blocks(course_page(document)), files
