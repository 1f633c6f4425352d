"""What the commands of a clinic's service share: its home folder, and opening it."""

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from imu_rom.errors import MissingExtraError

if TYPE_CHECKING:
    from imu_rom.clinic.configuration import Configuration
    from imu_rom.clinic.service import Service

__all__ = ["configured", "home_option", "opened_service"]

# what the extra "clinic" brings, by the names that are imported
NEEDED = (
    "alembic",
    "argon2",
    "cryptography",
    "pyotp",
    "python_multipart",
    "segno",
    "sqlalchemy",
    "starlette",
    "uvicorn",
)


def home_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """Add the option that names the home folder.

    Parameters
    ----------
    command : callable
        A click command's function.

    Returns
    -------
    callable
        With ``--home``, given as ``home``.
    """
    return click.option(
        "--home",
        type=click.Path(path_type=Path, file_okay=False),
        help="Folder of all that is kept; else IMU_ROM_HOME, else imu-rom in the user's folder of data.",
    )(command)


def configured(home: Path | None) -> "Configuration":
    """Read how a clinic's service is configured.

    Parameters
    ----------
    home : Path or None
        As the option gave it.

    Returns
    -------
    Configuration
        Places and limits.

    Raises
    ------
    ClinicError
        If a setting can't be used.
    MissingExtraError
        If packages are missing that only this service needs.
    """
    missing = [each for each in NEEDED if find_spec(each) is None]
    if missing:
        what = f"a clinic's service needs more packages ({', '.join(missing)})"
        raise MissingExtraError(what, do="pip install 'imu-rom[clinic]'")
    from imu_rom.clinic.configuration import read_configuration  # noqa: PLC0415

    return read_configuration(home, os.environ)


@contextmanager
def opened_service(home: Path | None) -> Iterator["Service"]:
    """Open a clinic's service, with its database up to date.

    Parameters
    ----------
    home : Path or None
        As the option gave it.

    Yields
    ------
    Service
        Closed afterwards.

    Raises
    ------
    ClinicError
        If it can't be opened as it is configured.
    MissingExtraError
        If packages are missing that only this service needs.
    """
    configuration = configured(home)
    from imu_rom.clinic.clock import SystemClock  # noqa: PLC0415
    from imu_rom.clinic.service import open_service  # noqa: PLC0415

    service = open_service(configuration, SystemClock())
    try:
        yield service
    finally:
        service.database.close()
