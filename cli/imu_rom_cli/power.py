"""``imu-rom power``: how many people and sessions a study needs."""

from pathlib import Path

import click

from imu_rom_cli.options import FILE, progress

__all__ = ["command"]

GRADES = ("exact", "usual", "coarse")


@click.command(name="power")
@click.option("--plan", "plan_file", required=True, type=FILE, metavar="PLAN.toml", help="Whose exercise is simulated.")
@click.option("--exercise", metavar="NAME", help="Exercise of the plan's stage; left out where there is one.")
@click.option(
    "--first",
    "first_s",
    type=click.FloatRange(min=0, min_open=True),
    default=60.0,
    show_default=True,
    metavar="S",
    help="True exposure a day in the first arm.",
)
@click.option(
    "--second",
    "second_s",
    type=click.FloatRange(min=0, min_open=True),
    default=90.0,
    show_default=True,
    metavar="S",
    help="In the second arm.",
)
@click.option(
    "--between",
    type=click.FloatRange(0, 2),
    default=0.3,
    show_default=True,
    metavar="SHARE",
    help="How much people differ, as a share of the mean.",
)
@click.option(
    "--within",
    type=click.FloatRange(0, 2),
    default=0.25,
    show_default=True,
    metavar="SHARE",
    help="How much a person's days differ.",
)
@click.option(
    "--zero",
    "zeros_deg",
    type=click.FloatRange(0, 20),
    multiple=True,
    default=(0.0, 1.0, 2.0, 4.0),
    show_default=True,
    metavar="DEG",
    help="Standard deviation of the neutral pose; once for each that is tried.",
)
@click.option(
    "--sessions",
    type=click.IntRange(1, 100),
    multiple=True,
    default=(1, 2, 4, 8),
    show_default=True,
    metavar="N",
    help="Recorded sessions a person; once for each that is tried.",
)
@click.option(
    "--sensors",
    type=click.Choice(GRADES),
    multiple=True,
    default=("usual",),
    show_default=True,
    help="What sensors add to the angle; once for each that is tried.",
)
@click.option("--power", "wanted", type=click.FloatRange(0.5, 0.99), default=0.8, show_default=True, help="Asked for.")
@click.option("--trials", type=click.IntRange(100, 100_000), default=1000, show_default=True, help="Studies simulated.")
@click.option("--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Same seed, same table.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the table.")
def command(
    plan_file: Path,
    exercise: str | None,
    first_s: float,
    second_s: float,
    between: float,
    within: float,
    zeros_deg: tuple[float, ...],
    sessions: tuple[int, ...],
    sensors: tuple[str, ...],
    wanted: float,
    trials: int,
    seed: int,
    as_json: bool,
) -> None:
    """Say how many people and sessions tell two amounts of exposure apart, by simulated studies."""
    # imported here so that --help loads no numpy
    from imu_rom.cohort.power import study_power  # noqa: PLC0415
    from imu_rom.dose.plan_file import read_plan  # noqa: PLC0415
    from imu_rom.dose.study_power import PowerAssumptions  # noqa: PLC0415
    from imu_rom.errors import PlanError  # noqa: PLC0415
    from imu_rom.exchange.plain_values import json_text, plain, rounded  # noqa: PLC0415
    from imu_rom.wording.power_text import power_headings, power_rows, power_sentences  # noqa: PLC0415
    from imu_rom_cli.text_table import text_table  # noqa: PLC0415

    if first_s == second_s:
        raise click.UsageError("--first and --second must differ, or there is nothing to tell apart")
    done = read_plan(plan_file).exercise(exercise)
    if done.compression_threshold is None:
        raise PlanError(
            f"{done.name} has no compression_threshold",
            where=str(plan_file),
            do="name another by --exercise, or add one",
        )
    assumptions = PowerAssumptions(
        exercise=done.name,
        threshold_deg=done.compression_threshold.deg,
        first_s=first_s,
        second_s=second_s,
        between_share=between,
        within_share=within,
        wanted=wanted,
        trials=trials,
        seed=seed,
    )
    with progress("Simulating studies"):
        found = rounded(study_power(done, assumptions, sensors=sensors, zeros_deg=zeros_deg, sessions=sessions))
    if as_json:
        click.echo(json_text({"format": "imu-rom study power", "schema_version": 1, **plain(found)}), nl=False)
    else:
        click.echo("\n".join(power_sentences(found)) + "\n")
        click.echo(text_table(power_headings(), power_rows(found)))
