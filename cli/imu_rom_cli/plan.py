"""``imu-rom plan``: check a plan file and say what it asks for; the other words are in files of their own."""

from pathlib import Path

import click

from imu_rom_cli.options import load_settings, settings_option
from imu_rom_cli.plan_diary import diary
from imu_rom_cli.plan_new import new
from imu_rom_cli.plan_show import show

__all__ = ["command"]


@click.group()
def command() -> None:
    """Check a plan file, say its calendar in words, write one from a published programme, or its empty diary."""


command.add_command(diary)
command.add_command(new)
command.add_command(show)


@command.command("check", short_help="Say what a plan asks for and what stays undecided; or what is wrong.")
@click.argument("plan_file", metavar="PLAN.toml", type=click.Path(path_type=Path))
@settings_option
def check(plan_file: Path, settings_file: Path | None) -> None:
    """Say what a plan asks for, what will stay undecided and what to look at again; or what is wrong and where."""
    # imported here so that --help loads no numpy
    from imu_rom.dose.plan_file import read_plan  # noqa: PLC0415
    from imu_rom.dose.plan_warnings import plan_warnings  # noqa: PLC0415
    from imu_rom.motion.uncertainty import angle_budget  # noqa: PLC0415
    from imu_rom.wording.cautions import stage_cautions  # noqa: PLC0415
    from imu_rom.wording.plan_text import describe_plan  # noqa: PLC0415
    from imu_rom.wording.plan_warning_text import warning_sentences  # noqa: PLC0415

    settings, _ = load_settings(settings_file)
    plan = read_plan(plan_file, largest_mb=settings.reading.largest_plan_mb)
    own = plan.own_uncertainty
    uncertainty = settings.uncertainty if own is None else own.applied_to(settings.uncertainty)
    u_deg = angle_budget(uncertainty).u_common_deg
    look_again = warning_sentences(plan.tendon_site, plan_warnings(plan, u_deg, settings.course.published_sem))
    for sentence in (*describe_plan(plan, u_deg, uncertainty), *look_again, *stage_cautions()):
        click.echo(sentence)
