"""``imu-rom clinic backup``, ``restore``, ``check``, ``purge``, ``reanalyse``: what keeps a clinic's service well."""

from pathlib import Path
from typing import TYPE_CHECKING

import click

from imu_rom_cli.clinic_service import configured, home_option, opened_service

if TYPE_CHECKING:
    from imu_rom.clinic.audit import Link

__all__ = ["back_up_command", "check_command", "purge_command", "reanalyse_command", "restore_command"]


def _noted(context: click.Context, parameter: click.Parameter, value: str | None) -> "Link | None":
    """Read the trail's last entry as ``check`` prints it."""
    del context
    from imu_rom.clinic.audit import NOTHING_BEFORE, Link  # noqa: PLC0415

    if value is None:
        return None
    number, _, entry_hash = value.partition(":")
    if not number.isdecimal() or len(entry_hash) != len(NOTHING_BEFORE):
        raise click.BadParameter("must be NUMBER:HASH, as imu-rom clinic check prints it", param=parameter)
    return Link(int(number), entry_hash.lower())


@click.command("backup", short_help="Take a backup into a new folder; the service may run meanwhile.")
@click.argument("folder", metavar="FOLDER", type=click.Path(path_type=Path))
@home_option
def back_up_command(folder: Path, home: Path | None) -> None:
    """Take a backup of database and stored files into a new FOLDER, of one moment; the service may run meanwhile."""
    with opened_service(home) as service:
        from imu_rom.clinic.backup import back_up  # noqa: PLC0415
        from imu_rom.wording.clinic_upkeep_text import backed_up  # noqa: PLC0415

        facts = back_up(service, folder)
    rows = sum(facts.rows.values())
    for line in backed_up(str(folder), rows, facts.files, facts.file_bytes, encrypted=facts.encrypted):
        click.echo(line)


@click.command("restore", short_help="Restore a backup into a new home or an empty database.")
@click.argument("folder", metavar="FOLDER", type=click.Path(path_type=Path, exists=True, file_okay=False))
@home_option
def restore_command(folder: Path, home: Path | None) -> None:
    """Restore the backup in FOLDER into a new home or an empty database, of either kind, and bring it up to date."""
    configuration = configured(home)
    from imu_rom.clinic.backup import BackupFacts, restore  # noqa: PLC0415
    from imu_rom.wording.clinic_upkeep_text import restored  # noqa: PLC0415

    facts = restore(configuration, folder)
    same_secret = facts.secret_sha256 == BackupFacts.secret_mark(configuration)
    for line in restored(sum(facts.rows.values()), facts.files, facts.file_bytes, same_secret=same_secret):
        click.echo(line)


@click.command("check", short_help="Check that all that is kept is whole.")
@click.option(
    "--noted",
    callback=_noted,
    metavar="NUMBER:HASH",
    help="The trail's last entry that an earlier check printed: shows a trail that was cut off or written anew.",
)
@home_option
def check_command(noted: "Link | None", home: Path | None) -> None:
    """Check the audit trail, the rows and each stored file by its hash; the service may run meanwhile."""
    with opened_service(home) as service:
        from imu_rom.clinic.checking import check  # noqa: PLC0415
        from imu_rom.errors import ClinicError  # noqa: PLC0415
        from imu_rom.wording.clinic_upkeep_text import checked  # noqa: PLC0415

        report = check(service, noted)
    last = f"{report.last.number}:{report.last.entry_hash}"
    for line in checked(report.problems, report.notes, report.files, report.file_bytes, last):
        click.echo(line)
    if report.problems:
        count = len(report.problems)
        what = "something is not as it must be" if count == 1 else f"{count} things are not as they must be"
        raise ClinicError(what, do="keep all as it is, and look at the last backup")


@click.command("purge", short_help="Remove what may go after the retention period.")
@home_option
def purge_command(home: Path | None) -> None:
    """Remove what may go: patients who asked for it or were put aside, files that nothing names any more.

    A patient goes once the clinic's retention period is over, and none while no such period is set.
    """
    with opened_service(home) as service:
        from imu_rom.clinic.purging import purge  # noqa: PLC0415
        from imu_rom.wording.clinic_upkeep_text import purged  # noqa: PLC0415

        gone = purge(service)
    for line in purged(gone.patients, gone.recordings, gone.files, gone.waiting):
        click.echo(line)


@click.command("reanalyse", short_help="Have sessions analysed anew by this version of the program.")
@click.option("--all", "everything", is_flag=True, help="Also those whose result is of this version.")
@home_option
def reanalyse_command(everything: bool, home: Path | None) -> None:
    """Have workers analyse anew what an earlier version analysed, and what it could not use; earlier results stay."""
    with opened_service(home) as service:
        from imu_rom.clinic.reanalysing import ask_reanalysis  # noqa: PLC0415
        from imu_rom.wording.clinic_upkeep_text import reanalysed  # noqa: PLC0415

        with service.database.writing() as connection:
            asked = ask_reanalysis(connection, service.clock.now_ms(), everything=everything)
    click.echo(reanalysed(asked))
