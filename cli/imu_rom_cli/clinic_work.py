"""``imu-rom clinic work``: one more worker, on this machine or on another with the same database and files."""

from pathlib import Path

import click

from imu_rom_cli.clinic_service import home_option, opened_service

__all__ = ["command"]


@click.command("work", short_help="Analyse what patients send, until Ctrl-C.")
@click.option("--with-server", is_flag=True, help="Stop when standard input ends, as imu-rom serve has it.")
@home_option
def command(with_server: bool, home: Path | None) -> None:
    """Analyse what patients send until Ctrl-C. Any number may run, on any number of machines with one PostgreSQL."""
    with opened_service(home) as service:
        from imu_rom.clinic.serving import log_to_standard_error, stop_with_standard_input  # noqa: PLC0415
        from imu_rom.clinic.worker import run_worker, stop_on_signals  # noqa: PLC0415

        log_to_standard_error()
        stop = stop_on_signals()
        if with_server:
            stop_with_standard_input(stop)
        run_worker(service, stop)
