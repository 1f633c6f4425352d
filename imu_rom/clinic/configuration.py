"""Where a clinic's service keeps things and within which limits; it starts with nothing configured.

Settings come from ``clinic.toml`` in the home folder, and from variables ``IMU_ROM_<NAME>`` of the environment, which
win. The secret that keys are derived from is made at the first start.
"""

import hmac
import os
import secrets
import tomllib
from collections.abc import Mapping
from dataclasses import Field, dataclass, field, fields
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from imu_rom.errors import ClinicError

__all__ = ["PLACES", "SETTINGS_FILE", "Configuration", "Limits", "read_configuration"]

SETTINGS_FILE = "clinic.toml"
SECRET_FILE = "secret.key"  # noqa: S105 - the name of a file
SECRET_BYTES = 32
PREFIX = "IMU_ROM_"
PLACES = ("database_url", "files_url", "public_url", "secret_file", "encryption_key_file")
"""Settings that are no numbers."""
OWNER_ONLY_FOLDER = 0o700
OWNER_ONLY_FILE = 0o600


def _limit(default: int, meaning: str, *, least: int = 1, most: int = 1_000_000) -> int:
    return field(default=default, metadata={"meaning": meaning, "least": least, "most": most})


@dataclass(frozen=True, kw_only=True)
class Limits:
    """Numbers that the owner may change; each has its unit at the end of its name.

    Defaults are common practice without a source, where none is given.
    """

    # NIST SP 800-63B-4 (2025), 2.2.3: reauthenticate after an hour without activity at most, and after 24 hours
    clinician_idle_minutes: int = _limit(30, "a clinician is signed out after so long without a request", most=60)
    patient_idle_minutes: int = _limit(120, "a patient is signed out after so long without a request", most=43_200)
    session_hours: int = _limit(12, "everybody is signed out so long after signing in", most=720)
    invitation_hours: int = _limit(168, "an invitation can be opened for so long", most=720)
    reset_hours: int = _limit(24, "a link to a new passphrase can be opened for so long", most=168)
    sign_in_minutes: int = _limit(15, "tries to sign in are counted over so long", most=1440)
    sign_ins_per_name: int = _limit(10, "tries to sign in under one name in that time", most=100)
    sign_ins_per_address: int = _limit(100, "tries to sign in from one address in that time")
    uploads_per_hour: int = _limit(30, "uploads of one patient in an hour")
    upload_mib: int = _limit(256, "size of one upload, all files together")
    patient_mib: int = _limit(5120, "size of all that one patient has sent")
    upload_files: int = _limit(32, "files in one upload", most=1000)
    archive_mib: int = _limit(1024, "size of what an archive unpacks to")
    archive_files: int = _limit(200, "files in an archive", most=10_000)
    archive_ratio: int = _limit(200, "times that an archive's file may grow when it is unpacked", most=2000)
    analysis_memory_mib: int = _limit(2048, "memory of the process that reads and analyses one recording", least=256)
    analysis_minutes: int = _limit(10, "time of that process", most=1440)
    analysis_attempts: int = _limit(3, "tries before an analysis is given up", most=20)
    form_kib: int = _limit(256, "size of a form without files", most=10_240)


@dataclass(frozen=True, kw_only=True)
class Configuration:
    """Where things are, and within which limits the service works.

    Parameters
    ----------
    home : Path
        Folder of everything that is kept on this machine; its owner's alone.
    database_url : str
        SQLAlchemy's address of the database; a file in ``home`` by default.
    files_url : str
        Folder of the stored files, or address of an object store that fsspec opens.
    public_url : str
        How people's browsers reach the service; without a slash at the end.
    secret : bytes
        What keys are derived from; 32 bytes. All machines of one clinic need the same.
    encryption_key_file : Path or None
        File with the key that stored recordings are encrypted with; None stores them as they came.
    limits : Limits
        Numbers.
    """

    home: Path
    database_url: str = field(repr=False)
    files_url: str
    public_url: str
    secret: bytes = field(repr=False)
    encryption_key_file: Path | None
    limits: Limits

    @property
    def behind_tls(self) -> bool:
        """Whether browsers reach the service by https."""
        return self.public_url.startswith("https://")

    def key(self, purpose: str) -> bytes:
        """Derive a key for one purpose from the secret.

        Parameters
        ----------
        purpose : str
            What the key is for; another purpose gives a key that tells nothing of this one.

        Returns
        -------
        bytes
            32 bytes: HMAC-SHA-256 of the purpose (RFC 2104).
        """
        return hmac.digest(self.secret, purpose.encode(), "sha256")


def read_configuration(home: Path | None, environ: Mapping[str, str]) -> Configuration:
    """Read the configuration, and make the home folder and the secret where they are missing.

    Parameters
    ----------
    home : Path or None
        Home folder; None takes ``IMU_ROM_HOME``, else ``imu-rom`` in the user's folder of data.
    environ : mapping
        The environment's variables.

    Returns
    -------
    Configuration
        Complete; every setting that was not given has its default.

    Raises
    ------
    ClinicError
        If a setting is unknown or outside of its range, or others could read the secret.
    """
    home = _home(environ) if home is None else home.expanduser().absolute()
    try:
        home.mkdir(mode=OWNER_ONLY_FOLDER, parents=True, exist_ok=True)
    except OSError as error:
        advice = "name another folder by --home or IMU_ROM_HOME"
        raise ClinicError(f"the folder can't be made ({error.strerror})", where=str(home), do=advice) from error
    given = _from_file(home / SETTINGS_FILE) | _from_environment(environ)
    secret_file = _path(given, "secret_file", home) or home / SECRET_FILE
    public_url = _public_url(given)
    return Configuration(
        home=home,
        database_url=_text(given, "database_url", f"sqlite:///{home / 'clinic.sqlite'}"),
        files_url=_text(given, "files_url", str(home / "files")),
        public_url=public_url,
        secret=_secret(secret_file),
        encryption_key_file=_path(given, "encryption_key_file", home),
        limits=Limits(**{each.name: _number(given, each) for each in fields(Limits) if each.name in given}),
    )


def _home(environ: Mapping[str, str]) -> Path:
    if named := environ.get("IMU_ROM_HOME"):
        return Path(named).expanduser().absolute()
    # XDG Base Directory Specification: where a user's data go
    data = environ.get("XDG_DATA_HOME") or "~/.local/share"
    return Path(data).expanduser().absolute() / "imu-rom"


def _from_file(path: Path) -> dict[str, tuple[Any, str]]:
    try:
        read = tomllib.loads(path.read_text("utf-8"))
    except FileNotFoundError:
        return {}
    except (OSError, UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise ClinicError(f"the settings can't be read ({error})", where=str(path), do="mend or remove it") from error
    known = {*PLACES, *(each.name for each in fields(Limits))}
    for name in read:
        if name not in known:
            raise ClinicError(f"'{name}' is no setting", where=str(path), do=f"use one of {', '.join(sorted(known))}")
    return {name: (value, f"{path}: {name}") for name, value in read.items()}


def _from_environment(environ: Mapping[str, str]) -> dict[str, tuple[Any, str]]:
    given: dict[str, tuple[Any, str]] = {}
    for name in PLACES:
        if value := environ.get(PREFIX + name.upper()):
            given[name] = (value, PREFIX + name.upper())
    for each in fields(Limits):
        variable = PREFIX + each.name.upper()
        if value := environ.get(variable):
            try:
                given[each.name] = (int(value), variable)
            except ValueError:
                raise ClinicError(f"must be a whole number, got '{value}'", where=variable) from None
    return given


def _text(given: Mapping[str, tuple[Any, str]], name: str, default: str) -> str:
    value, where = given.get(name, (default, ""))
    if not isinstance(value, str) or not value.strip():
        raise ClinicError("must be a text that is not empty", where=where)
    return value


def _path(given: Mapping[str, tuple[Any, str]], name: str, home: Path) -> Path | None:
    return home / Path(_text(given, name, "")).expanduser() if name in given else None


def _public_url(given: Mapping[str, tuple[Any, str]]) -> str:
    url = _text(given, "public_url", "http://127.0.0.1:8000").rstrip("/")
    parts = urlsplit(url)
    if parts.scheme not in {"http", "https"} or not parts.netloc or parts.path or parts.query or parts.fragment:
        where = given["public_url"][1]
        raise ClinicError(f"must be https://name or http://name:port without a path, got '{url}'", where=where)
    return url


def _number(given: Mapping[str, tuple[Any, str]], limit: Field[Any]) -> int:
    value, where = given[limit.name]
    least, most = limit.metadata["least"], limit.metadata["most"]
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
        raise ClinicError(f"must be a whole number from {least} to {most}, got {value}", where=where)
    return value


def _secret(path: Path) -> bytes:
    """Read the secret, made first where it is missing; of two that start at once, both get the same."""
    if not path.exists():
        _make_secret(path)
    try:
        text = path.read_text("ascii").strip()
        mode = path.stat().st_mode & 0o777
    except (OSError, UnicodeDecodeError) as error:
        raise ClinicError(f"the secret can't be read ({error})", where=str(path)) from error
    if mode & 0o077:
        advice = f"run chmod 600 {path}"
        raise ClinicError(f"others than its owner can read the secret (mode {mode:o})", where=str(path), do=advice)
    try:
        secret = bytes.fromhex(text)
    except ValueError:
        secret = b""
    if len(secret) != SECRET_BYTES:
        raise ClinicError(f"the secret must be {2 * SECRET_BYTES} hexadecimal digits", where=str(path))
    return secret


def _make_secret(path: Path) -> None:
    new = path.with_name(f".{path.name}.{secrets.token_hex(8)}")
    try:
        with os.fdopen(os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNER_ONLY_FILE), "w") as file:
            file.write(secrets.token_hex(SECRET_BYTES) + "\n")
            file.flush()
            os.fsync(file.fileno())
        try:
            os.link(new, path)
        except FileExistsError:
            return
        finally:
            new.unlink()
    except OSError as error:
        raise ClinicError(f"the secret can't be written ({error.strerror})", where=str(path)) from error
