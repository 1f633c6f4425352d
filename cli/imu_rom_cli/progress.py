"""``imu-rom progress``: a course of weeks from its folder."""

import shutil
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from imu_rom_cli.course_folder import course_document
from imu_rom_cli.options import day_in_words, settings_option

if TYPE_CHECKING:
    from imu_rom.exchange.progress import ProgressDocument
    from imu_rom.wording.course_tables import Table

__all__ = ["command"]

WIDEST = 120


@click.command(name="progress")
@click.argument("folder", type=click.Path(path_type=Path), metavar="FOLDER")
@click.option(
    "--until",
    callback=day_in_words,
    metavar="DATE",
    help="Last day; else the last one with a recording or a line of the diary.",
)
@click.option("--days", "by_day", is_flag=True, help="Show every day as well.")
@click.option("--no-analysis", is_flag=True, help="Analyse nothing and write nothing; take the results as they are.")
@settings_option
@click.option("--json", "as_json", is_flag=True, help="Print progress.json instead of the tables.")
def command(
    folder: Path,
    until: date | None,
    by_day: bool,
    no_analysis: bool,
    settings_file: Path | None,
    as_json: bool,
) -> None:
    """Lay out a course of weeks: what was done of the dose, measured and felt, and where the stage stands.

    FOLDER holds plan.toml (or plans/*.toml), diary.csv if there is one, recordings in any folder below, and results/,
    into which what is new is analysed.
    """
    # imported here so that --help loads no numpy
    from imu_rom.exchange.progress import write_progress  # noqa: PLC0415
    from imu_rom.wording.cautions import stage_cautions  # noqa: PLC0415
    from imu_rom.wording.course_text import first_of_all  # noqa: PLC0415

    document = course_document(folder, settings_file, until, analyse=not no_analysis)
    if as_json:
        click.echo(write_progress(document, (*first_of_all(document.answer), *stage_cautions())), nl=False)
    else:
        click.echo(_told(document, by_day=by_day))


def _told(document: "ProgressDocument", *, by_day: bool) -> str:
    """Put sentences and tables together as text: what is urgent first, the cautions last."""
    from imu_rom.wording.case_text import case_sentences, criteria_table, missing_sentences  # noqa: PLC0415
    from imu_rom.wording.cautions import stage_cautions  # noqa: PLC0415
    from imu_rom.wording.change_text import change_sentences, change_table  # noqa: PLC0415
    from imu_rom.wording.course_tables import (  # noqa: PLC0415
        day_table,
        dose_table,
        pain_table,
        stage_table,
        total_table,
    )
    from imu_rom.wording.course_text import (  # noqa: PLC0415
        course_sentences,
        first_of_all,
        pain_sentences,
        reading_sentences,
    )
    from imu_rom.wording.measured_tables import end_range_table, exposure_table  # noqa: PLC0415
    from imu_rom.wording.pattern_text import pattern_sentences  # noqa: PLC0415

    answer, settings = document.answer, document.settings["course"]
    criteria = [] if answer.stage is None else [_table(criteria_table(answer.stage.name, answer.criteria))]
    parts = [
        _section("", first_of_all(answer)),
        _section("", course_sentences(answer)),
        _table(total_table(answer)),
        *criteria,
        _section("The case", case_sentences(answer.case) + missing_sentences(answer.case.missing)),
        *(_table(each(answer)) for each in (stage_table, dose_table, exposure_table, end_range_table, pain_table)),
        _section("Pain", pain_sentences(answer)),
        _section(
            f"Patterns, in the last {settings['pattern_days']:g} days of the stage", pattern_sentences(answer.patterns)
        ),
        _table(change_table(answer)),
        _section("", change_sentences(answer)),
        _table(day_table(answer)) if by_day else "",
        _section("What was read", reading_sentences(document.reading, answer)),
        _section("Cautions", stage_cautions()),
    ]
    return "\n\n".join(part for part in parts if part)


def _section(heading: str, sentences: tuple[str, ...]) -> str:
    from imu_rom.wording.lines import wrapped  # noqa: PLC0415

    width = min(shutil.get_terminal_size().columns, WIDEST)
    lines = [line for each in sentences for line in wrapped("", each, width, hang=2)]
    return "\n".join(filter(None, (heading, *lines))) if lines else ""


def _table(table: "Table") -> str:
    from imu_rom_cli.text_table import text_table  # noqa: PLC0415

    return f"{table.title}\n{text_table(table.headings, table.rows, table.words)}" if table.rows else ""
