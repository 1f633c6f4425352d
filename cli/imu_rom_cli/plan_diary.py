"""``imu-rom plan diary``: an empty diary for the person, a line for each session of the plan."""

from datetime import date
from pathlib import Path

import click

from imu_rom_cli.new_file import check_new_file, tell_or_write
from imu_rom_cli.options import FILE, day_in_words

__all__ = ["diary"]


@click.command("diary", short_help="Write an empty diary for the person, a line for each session asked.")
@click.argument("plan_file", metavar="PLAN.toml", type=click.Path(path_type=Path))
@click.option("--start", callback=day_in_words, required=True, metavar="DATE", help="First day, such as 2026-12-01.")
@click.option("--days", type=click.IntRange(1, 366), default=28, show_default=True, help="How many days.")
@click.option("--out", type=FILE, metavar="FILE", help="Write it there instead of printing it; never over a file.")
def diary(plan_file: Path, start: date, days: int, out: Path | None) -> None:
    """Write diary.csv with the sessions that the plan asks for, to be filled in with any spreadsheet.

    A line that is not filled in says nothing: it counts neither as done nor as not done.
    """
    # imported here so that --help loads no numpy
    from imu_rom.course.empty_diary import empty_diary, sessions_asked  # noqa: PLC0415
    from imu_rom.dose.plan_file import read_plan  # noqa: PLC0415
    from imu_rom.settings import Settings  # noqa: PLC0415

    check_new_file(out, "a diary")
    plan = read_plan(plan_file, largest_mb=Settings().reading.largest_plan_mb)
    tell_or_write(out, empty_diary(sessions_asked(plan, start, days)))
