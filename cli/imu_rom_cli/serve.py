"""``imu-rom serve``: the clinic's pages in a browser, with a worker beside them."""

import sys
from pathlib import Path
from urllib.parse import urlsplit

import click

from imu_rom_cli.clinic_service import home_option, opened_service

__all__ = ["command"]

ANY_PORT = 8000


@click.command(short_help="Run the clinic's pages and a worker.")
@click.option("--host", default="127.0.0.1", show_default=True, help="Address of this machine to listen at.")
@click.option("--port", type=click.IntRange(0, 65535), help="Port; else that of the public address, else 8000.")
@click.option("--no-worker", is_flag=True, help="Only the pages: imu-rom clinic work runs elsewhere.")
@click.option("--quiet", is_flag=True, help="Write no line for each request.")
@home_option
def command(host: str, port: int | None, no_worker: bool, quiet: bool, home: Path | None) -> None:
    """Run the clinic's pages and a worker until Ctrl-C. Starts with nothing configured and says what to do next."""
    with opened_service(home) as service:
        from contextlib import nullcontext  # noqa: PLC0415

        from imu_rom.clinic.accounts import list_clinicians  # noqa: PLC0415
        from imu_rom.clinic.clinics import list_clinics  # noqa: PLC0415
        from imu_rom.clinic.serving import listen, log_to_standard_error, serve, worker_beside  # noqa: PLC0415
        from imu_rom.wording.serve_text import listening, next_step, stopped, worker_ended  # noqa: PLC0415

        configuration = service.configuration
        if port is None:
            port = (None if configuration.behind_tls else urlsplit(configuration.public_url).port) or ANY_PORT
        taken = listen(host, port)
        if not quiet:
            log_to_standard_error()
        address = f"http://{host}:{taken.getsockname()[1]}"
        with service.database.reading() as connection:
            clinics = list_clinics(connection)
            clinicians = [one for each in clinics for one in list_clinicians(connection, each.clinic_id)]
        for line in listening(address, configuration.public_url, works=not no_worker):
            click.echo(line)
        phones = sum(each.phone is not None for each in clinics)
        todo = next_step(clinics=len(clinics), phones=phones, clinicians=len(clinicians))
        if todo:
            click.echo(todo)
        sys.stdout.flush()
        words = [
            sys.executable,
            "-m",
            "imu_rom_cli",
            "clinic",
            "work",
            "--home",
            str(configuration.home),
            "--with-server",
        ]
        worker = (
            nullcontext() if no_worker else worker_beside(words, lambda code: click.echo(worker_ended(code), err=True))
        )
        with worker:
            serve(service, taken)
        click.echo(stopped(), err=True)
