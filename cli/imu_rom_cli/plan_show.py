"""``imu-rom plan show``: a plan's calendar in words."""

import shutil
from datetime import date
from pathlib import Path

import click

from imu_rom_cli.options import day_in_words, load_settings, settings_option

__all__ = ["show"]

WIDEST = 120


@click.command("show", short_help="Say a whole plan in words: its calendar, every stage, doses, totals, criteria.")
@click.argument("plan_file", metavar="PLAN.toml", type=click.Path(path_type=Path))
@click.option(
    "--on",
    "day",
    callback=day_in_words,
    metavar="DATE",
    help="Mark the stage that holds then (2026-12-08).",
)
@settings_option
def show(plan_file: Path, day: date | None, settings_file: Path | None) -> None:
    """Say the calendar in words: each stage with its dates, doses, totals and what must hold to move on.

    What it prints depends on the plan, the settings and DATE alone, never on today.
    """
    # imported here so that --help loads no numpy
    from imu_rom.dose.plan_file import read_plan  # noqa: PLC0415
    from imu_rom.wording.calendar_text import calendar_lines  # noqa: PLC0415

    settings, _ = load_settings(settings_file)
    plan = read_plan(plan_file, largest_mb=settings.reading.largest_plan_mb)
    width = min(shutil.get_terminal_size().columns, WIDEST)
    click.echo("\n".join(calendar_lines(plan, width, settings.course.stable_days, day)))
