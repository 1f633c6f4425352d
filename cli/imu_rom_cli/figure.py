"""``imu-rom figure``: a figure for a paper, from the folder of a result or of a course."""

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from imu_rom_cli.course_folder import course_document
from imu_rom_cli.options import FILE, day_in_words, settings_option

if TYPE_CHECKING:
    from imu_rom.report.static_canvas import FigureFormat

__all__ = ["command"]

KINDS = ("angle", "repetitions", "exposure", "trend")
BEGINS = {"svg": b"<?xml", "png": b"\x89PNG", "pdf": b"%PDF"}


def _format(_context: click.Context, _parameter: click.Parameter, value: Path) -> Path:
    if value.suffix.lower().lstrip(".") not in BEGINS:
        raise click.BadParameter(f"must end in .svg, .png or .pdf, got {value.name!r}")
    return value


@click.command(name="figure")
@click.argument("folder", type=click.Path(path_type=Path), metavar="RESULT|FOLDER")
@click.option("--kind", type=click.Choice(KINDS), required=True, help="What it shows; trend is of a course.")
@click.option("--out", type=FILE, required=True, callback=_format, metavar="FILE", help="x.svg, x.png or x.pdf.")
@click.option("--exercise", metavar="NAME", help="Which exercise, where a result holds several.")
@click.option("--overwrite", is_flag=True, help="Replace an earlier figure.")
@click.option("--until", callback=day_in_words, metavar="DATE", help="Last day of a course.")
@settings_option
def command(
    folder: Path,
    kind: str,
    out: Path,
    exercise: str | None,
    overwrite: bool,
    until: date | None,
    settings_file: Path | None,
) -> None:
    """Draw a figure for a paper, as wide as a journal's column.

    RESULT is the folder that imu-rom analyse --out wrote, FOLDER that of a course. Needs the extra 'figures'.
    """
    # imported here so that --help loads no numpy
    from imu_rom.errors import CannotAnswerError, OutputError  # noqa: PLC0415
    from imu_rom.exchange.folder import whole_file  # noqa: PLC0415
    from imu_rom.exchange.folder_kind import folder_kind  # noqa: PLC0415
    from imu_rom.report.static_canvas import need_matplotlib  # noqa: PLC0415

    need_matplotlib()
    of_course = folder_kind(folder) == "course"
    if of_course != (kind == "trend"):
        what = "a course" if of_course else "a result"
        can = "trend" if of_course else "angle, repetitions or exposure"
        raise CannotAnswerError(f"is {what}, which has no figure {kind!r}", where=str(folder), do=f"use --kind {can}")
    if not of_course and (until is not None or settings_file is not None):
        raise click.UsageError("--until and --settings are for the folder of a course")
    if of_course and exercise is not None:
        raise click.UsageError("--exercise is for a result: the figure of a course shows all of them")
    if out.exists() and not overwrite:
        advice = "name another file by --out, or add --overwrite to replace it"
        raise OutputError("exists already", where=str(out), do=advice)
    form: FigureFormat = out.suffix.lower().lstrip(".")  # type: ignore[assignment]  # checked by _format
    if of_course:
        drawn, files = _trend(folder, settings_file, until, form)
    else:
        drawn, files = _session(folder, kind, exercise, form)
    whole_file(out, [drawn], replaces=BEGINS[form] if overwrite else b"", inputs=files)
    click.echo(f"Written to {out}.", err=True)


def _trend(
    folder: Path, settings_file: Path | None, until: date | None, form: "FigureFormat"
) -> tuple[bytes, list[Path]]:
    from imu_rom.report.course_figure import course_figure  # noqa: PLC0415
    from imu_rom.report.static_figure import trend_figure_bytes  # noqa: PLC0415

    document = course_document(folder, settings_file, until, analyse=False)
    shown = course_figure(document.answer, float(document.settings["pain"]["stop_above"]))
    return trend_figure_bytes(shown, form), [folder / each.name for each in document.reading.inputs]


def _session(folder: Path, kind: str, exercise: str | None, form: "FigureFormat") -> tuple[bytes, list[Path]]:
    from imu_rom.exchange.kept_angle import read_result_folder  # noqa: PLC0415
    from imu_rom.exchange.result import read_result  # noqa: PLC0415
    from imu_rom.report.static_figure import angle_figure_bytes, chosen_exercise, session_figure_bytes  # noqa: PLC0415

    if kind == "angle":
        read = read_result_folder(folder)
        place = chosen_exercise(read.document, exercise)
        return angle_figure_bytes(read.document.exercises[place], read.traces[place], form), list(read.files)
    document = read_result(folder / "result.json")
    answer = document.exercises[chosen_exercise(document, exercise)]
    drawn = session_figure_bytes(kind, answer, form)  # type: ignore[arg-type]  # one of KINDS
    return drawn, [folder / "result.json"]
