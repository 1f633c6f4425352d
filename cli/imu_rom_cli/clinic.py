"""``imu-rom clinic``: what the owner of a clinic's service does; people here, upkeep in a file of its own."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from imu_rom_cli.clinic_service import home_option, opened_service
from imu_rom_cli.clinic_upkeep import (
    back_up_command,
    check_command,
    purge_command,
    reanalyse_command,
    restore_command,
)
from imu_rom_cli.clinic_work import command as work

if TYPE_CHECKING:
    from sqlalchemy import Connection

    from imu_rom.clinic.accounts import Account
    from imu_rom.clinic.service import Service

__all__ = ["command"]


@click.group()
def command() -> None:
    """Set up a clinic where patients upload sessions and clinicians review them, and keep it well."""


for each in (back_up_command, check_command, purge_command, reanalyse_command, restore_command, work):
    command.add_command(each)


def _invited(service: "Service", connection: "Connection", account: "Account") -> list[str]:
    from imu_rom.clinic.accounts import sign_in_name_of  # noqa: PLC0415
    from imu_rom.clinic.invitations import invitation_link, invite  # noqa: PLC0415
    from imu_rom.wording.clinic_owner_text import invited  # noqa: PLC0415

    limits = service.configuration.limits
    made = invite(connection, service.clock.now_ms(), account, limits=limits, actor_id=None)
    hours = limits.invitation_hours if made.purpose == "join" else limits.reset_hours
    name = sign_in_name_of(connection, account.user_id) or ""
    return invited(name, invitation_link(service.configuration, made), hours, joins=made.purpose == "join")


@command.command("init", short_help="Make a clinic, or change the one of this name.")
@click.option("--name", required=True, help="The clinic's name, as patients know it.")
@click.option("--phone", help="The number that patients call; nobody is invited while it is missing.")
@click.option("--time-zone", metavar="ZONE", help="Where the clinic is, such as Europe/Berlin; else as this machine.")
@click.option("--retention-days", type=int, help="How long data must be kept before they may go; else for ever.")
@home_option
def init(name: str, phone: str | None, time_zone: str | None, retention_days: int | None, home: Path | None) -> None:
    """Make a clinic, or change the one of this name where it is there already."""
    with opened_service(home) as service:
        from imu_rom.clinic.clinics import add_clinic, change_clinic, find_clinic, machine_time_zone  # noqa: PLC0415
        from imu_rom.wording.clinic_owner_text import about_clinic, kept_in  # noqa: PLC0415

        with service.database.writing() as connection:
            now_ms = service.clock.now_ms()
            clinic = find_clinic(connection, name)
            if clinic is None:
                zone = machine_time_zone() if time_zone is None else time_zone
                clinic = add_clinic(
                    connection, now_ms, name=name, phone=phone, time_zone=zone, retention_days=retention_days
                )
            else:
                wanted = replace(
                    clinic,
                    phone=clinic.phone if phone is None else phone,
                    time_zone=clinic.time_zone if time_zone is None else time_zone,
                    retention_days=clinic.retention_days if retention_days is None else retention_days,
                )
                if wanted != clinic:
                    clinic = change_clinic(connection, now_ms, wanted)
        for line in about_clinic(clinic.name, clinic.phone, clinic.time_zone, clinic.retention_days):
            click.echo(line)
        click.echo(kept_in(str(service.configuration.home)), err=True)


@command.command("add-clinician", short_help="Add a clinician and print the link to join by.")
@click.argument("sign_in_name", metavar="NAME")
@click.option("--clinic", "clinic_name", help="The clinic's name, where there are several.")
@home_option
def add(sign_in_name: str, clinic_name: str | None, home: Path | None) -> None:
    """Add a clinician who signs in as NAME, such as a work e-mail address, and print the link to join by."""
    with opened_service(home) as service:
        from imu_rom.clinic.accounts import add_clinician  # noqa: PLC0415
        from imu_rom.clinic.clinics import the_clinic  # noqa: PLC0415

        with service.database.writing() as connection:
            clinic = the_clinic(connection, clinic_name)
            account = add_clinician(
                connection, service.clock.now_ms(), clinic_id=clinic.clinic_id, sign_in_name=sign_in_name
            )
            lines = _invited(service, connection, account)
    for line in lines:
        click.echo(line)


@command.command("invite", short_help="Print a new link for a clinician or a patient.")
@click.argument("who", metavar="WHO")
@click.option("--patient", "is_patient", is_flag=True, help="WHO is a patient's name in the list; added if it is new.")
@click.option("--clinic", "clinic_name", help="The patient's clinic, where there are several.")
@click.option("--language", help="In which language a new patient reads; else English.")
@click.option("--without-second-factor", is_flag=True, help="Ask a clinician for no code any more: the phone was lost.")
@home_option
def again(
    who: str,
    is_patient: bool,
    clinic_name: str | None,
    language: str | None,
    without_second_factor: bool,
    home: Path | None,
) -> None:
    """Print a new link: to join, or to set a new passphrase for somebody who has one. Earlier links open nothing more.

    WHO is the name that a clinician signs in with.
    """
    if is_patient and without_second_factor:
        raise click.UsageError("--without-second-factor is for clinicians only")
    if not is_patient and (language is not None or clinic_name is not None):
        raise click.UsageError("--language and --clinic are for --patient only")
    with opened_service(home) as service:
        from imu_rom.clinic.accounts import account_of, add_patient_account, find_clinician  # noqa: PLC0415
        from imu_rom.clinic.clinics import the_clinic  # noqa: PLC0415
        from imu_rom.clinic.patients import add_patient, find_patient  # noqa: PLC0415
        from imu_rom.clinic.second_factors import remove_second_factor  # noqa: PLC0415
        from imu_rom.wording.language import ENGLISH  # noqa: PLC0415

        with service.database.writing() as connection:
            now_ms = service.clock.now_ms()
            if is_patient:
                clinic_id = the_clinic(connection, clinic_name).clinic_id
                patient = find_patient(connection, clinic_id, who) or add_patient(
                    connection,
                    now_ms,
                    clinic_id=clinic_id,
                    actor_id=None,
                    label=who,
                    language=ENGLISH if language is None else language,
                )
                account = add_patient_account(connection, now_ms, patient, actor_id=None)
            else:
                account = account_of(find_clinician(connection, who))
                if without_second_factor:
                    remove_second_factor(connection, now_ms, account, actor_id=None)
            lines = _invited(service, connection, account)
    for line in lines:
        click.echo(line)


@command.command("close-account", short_help="Let a clinician in no more, or again.")
@click.argument("sign_in_name", metavar="NAME")
@click.option("--reopen", is_flag=True, help="Let the clinician in again.")
@home_option
def close(sign_in_name: str, reopen: bool, home: Path | None) -> None:
    """Let a clinician in no more, at once: who is signed in is signed out. What was written stays."""
    with opened_service(home) as service:
        from imu_rom.clinic.accounts import account_of, find_clinician, set_active  # noqa: PLC0415
        from imu_rom.wording.clinic_owner_text import closed_account  # noqa: PLC0415

        with service.database.writing() as connection:
            found = find_clinician(connection, sign_in_name)
            set_active(connection, service.clock.now_ms(), account_of(found), active=reopen)
    click.echo(closed_account(found.sign_in_name, reopened=reopen))


@command.command("list", short_help="Clinics, their clinicians, and how many patients they have.")
@home_option
def listed(home: Path | None) -> None:
    """List clinics, their clinicians, and how many patients they have; no patient is named."""
    with opened_service(home) as service:
        from imu_rom.clinic.accounts import list_clinicians  # noqa: PLC0415
        from imu_rom.clinic.clinics import list_clinics  # noqa: PLC0415
        from imu_rom.clinic.patients import list_patients  # noqa: PLC0415
        from imu_rom.clinic.storage_room import room_taken  # noqa: PLC0415
        from imu_rom.wording.clinic_owner_text import (  # noqa: PLC0415
            CLINICIAN_HEADINGS,
            about_clinic,
            clinician_cells,
            no_clinics,
            patient_numbers,
            room_words,
        )
        from imu_rom_cli.text_table import text_table  # noqa: PLC0415

        with service.database.reading() as connection:
            clinics = list_clinics(connection)
            for clinic in clinics:
                patients = list_patients(connection, clinic.clinic_id, with_retired=True)
                retired = sum(each.retired_at_ms is not None for each in patients)
                asked = sum(each.deletion_asked_at_ms is not None for each in patients)
                for line in about_clinic(clinic.name, clinic.phone, clinic.time_zone, clinic.retention_days):
                    click.echo(line)
                click.echo(patient_numbers(len(patients) - retired, retired, asked))
                taken = [each.size_bytes for each in room_taken(connection, clinic.clinic_id)]
                if taken:
                    click.echo(room_words(taken, service.configuration.limits.patient_mib << 20))
                rows = [
                    clinician_cells(
                        each.sign_in_name, joined=each.joined, second_factor=each.second_factor, active=each.active
                    )
                    for each in list_clinicians(connection, clinic.clinic_id)
                ]
                if rows:
                    click.echo(text_table(CLINICIAN_HEADINGS, rows, words=range(len(CLINICIAN_HEADINGS))))
        if not clinics:
            click.echo(no_clinics())
