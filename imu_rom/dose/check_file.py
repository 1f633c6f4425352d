"""What a plan takes from the ``check.json`` of a check that a clinic did: parts of the angle's uncertainty.

Such a file says in ``for_the_plan`` which parts it stands for; all else in it is for people and other programs.
"""

import hashlib
import json
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

from imu_rom.recording.model import InputFile
from imu_rom.settings import UncertaintySettings

__all__ = ["CHECK_FORMAT", "CHECK_VERSION", "CheckedParts", "read_checked_parts"]

CHECK_FORMAT = "imu-rom check"
CHECK_VERSION = 1
LARGEST_CHECK_MB = 4.0


@dataclass(frozen=True)
class CheckedParts:
    """Parts of the uncertainty from one check.

    Parameters
    ----------
    parts : dict of str to float
        Standard uncertainty in degrees by the names of `imu_rom.settings.UncertaintySettings`.
    source : str
        Which check it was, in words, with the name of its file.
    file : InputFile
        The file, for the provenance.
    """

    parts: dict[str, float]
    source: str
    file: InputFile


def read_checked_parts(path: Path) -> CheckedParts | str:
    """Read the parts of the uncertainty out of a check's file.

    Parameters
    ----------
    path : Path
        A ``check.json``.

    Returns
    -------
    CheckedParts or str
        The parts; or, as half a sentence about the file, why there are none.
    """
    try:
        data = _content(path)
        layout = _layout(data)
        parts = _parts(layout)
    except _NothingToTakeError as error:
        return str(error)
    file = InputFile(path.name, hashlib.sha256(data).hexdigest(), "check")
    return CheckedParts(parts, f"the {layout.get('check')!s:.40} check {path.name}", file)


class _NothingToTakeError(Exception):
    """Half a sentence about the file."""


def _content(path: Path) -> bytes:
    try:
        if not path.is_file():
            raise _NothingToTakeError("is no file" if path.exists() else "is not there")
        if path.stat().st_size > LARGEST_CHECK_MB * 1e6:
            raise _NothingToTakeError(f"is larger than {LARGEST_CHECK_MB:g} MB")
        return path.read_bytes()
    except (OSError, ValueError) as error:
        reason = (getattr(error, "strerror", None) or str(error)).lower()
        raise _NothingToTakeError(f"can't be read ({reason})") from None


def _layout(data: bytes) -> dict[str, Any]:
    try:
        layout = json.loads(data.decode("utf-8"))
    except (ValueError, RecursionError):
        raise _NothingToTakeError("is damaged or no JSON text") from None
    if not isinstance(layout, dict) or layout.get("format") != CHECK_FORMAT:
        raise _NothingToTakeError(f"is no check (its format must be {CHECK_FORMAT!r})")
    version = layout.get("schema_version")
    if isinstance(version, bool) or not isinstance(version, int) or not 1 <= version <= CHECK_VERSION:
        raise _NothingToTakeError(f"has the schema_version {version!r:.20} (this program reads up to {CHECK_VERSION})")
    return layout


def _parts(layout: dict[str, Any]) -> dict[str, float]:
    given = layout.get("for_the_plan")
    parts = given.get("parts") if isinstance(given, dict) else None
    if not isinstance(parts, dict):
        raise _NothingToTakeError("lacks its for_the_plan")
    allowed = {each.name: each.metadata for each in fields(UncertaintySettings) if each.metadata["low"] is not None}
    for name, value in parts.items():
        if name not in allowed:
            raise _NothingToTakeError(f"gives an unknown part of the uncertainty, {name!r:.40}")
        low, high, unit = (allowed[name][key] for key in ("low", "high", "unit"))
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            span = f"{low} to {high} {unit}".rstrip()
            raise _NothingToTakeError(f"gives {value!r:.20} for {name}, which must lie in {span}")
    if not parts:
        raise _NothingToTakeError("gives nothing to take from it, because the usual value was found to be enough")
    return parts
