"""Settings of an analysis from a TOML file; what it leaves out keeps its default."""

import hashlib
import tomllib
from pathlib import Path

from imu_rom.errors import SettingError
from imu_rom.recording.model import InputFile
from imu_rom.settings import Settings, settings_from_mapping

__all__ = ["read_settings"]

LARGEST_SETTINGS_MB = 1


def read_settings(path: Path) -> tuple[Settings, InputFile]:
    """Read a settings file.

    Parameters
    ----------
    path : Path
        TOML file with one table for each group of settings.

    Returns
    -------
    settings : Settings
        Checked settings.
    file : InputFile
        Its name and digest, for the result's provenance.

    Raises
    ------
    SettingError
        The file can't be read, or a setting is unknown or out of range.
    """
    where = str(path)
    try:
        if path.stat().st_size > LARGEST_SETTINGS_MB * 1e6:
            raise SettingError(f"must have at most {LARGEST_SETTINGS_MB} MB", where=where)
        if not path.is_file():
            raise SettingError("must be a plain file, got a folder, device or pipe", where=where)
        content = path.read_bytes()
    except OSError as error:
        raise SettingError(f"can't be read: {(error.strerror or str(error)).lower()}", where=where) from error
    try:
        tables = tomllib.loads(content.decode("utf-8"))
    except UnicodeDecodeError:
        raise SettingError("is no UTF-8 text", where=where) from None
    except tomllib.TOMLDecodeError as error:
        raise SettingError(f"is no TOML: {str(error)[:1].lower()}{str(error)[1:]}", where=where) from None
    except (ValueError, RecursionError):
        # numbers of thousands of digits, or brackets nested beyond reason
        raise SettingError("is no TOML that settings could hold", where=where) from None
    try:
        settings = settings_from_mapping(tables)
    except SettingError as error:
        raise SettingError(error.what, where=f"{where}: {error.where}", do=error.do) from None
    return settings, InputFile(path.name, hashlib.sha256(content).hexdigest(), "settings")
