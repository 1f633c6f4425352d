"""``result.json``: what one session answers, for everything that is built on it; written and read.

Reports, weeks, the clinic and cohorts read this file and ``angle.csv`` and nothing else. Its layout is published as a
JSON Schema beside this module (`result_schema`); ``schema_version`` rises when a key changes its meaning or goes away.
Keys that stand for the same thing as a column of ``repetitions.csv`` or ``sets.csv`` have that column's name.

All numbers that were measured are kept to 3 decimals (seconds, degrees) or 4 (shares, probabilities, unit vectors);
what the plan and the settings say is kept as they say it. A number without an upper bound (a window ``[5, inf]``) is
null. There are no run times and no folders in it, so the same input gives the same bytes.
"""

import json
from importlib import resources
from pathlib import Path
from typing import Any

from imu_rom.errors import ResultError
from imu_rom.exchange.document import ResultDocument
from imu_rom.exchange.plain_values import json_text
from imu_rom.exchange.result_layout import document_from_layout, document_to_layout

__all__ = ["parse_result", "read_result", "result_schema", "write_result"]

FORMAT = "imu-rom result"
SCHEMA_VERSION = 1
LARGEST_RESULT_MB = 64


def write_result(document: ResultDocument) -> bytes:
    """Write a result as JSON.

    Parameters
    ----------
    document : ResultDocument
        What `imu_rom.exchange.document.result_document` or `read_result` returned.

    Returns
    -------
    bytes
        UTF-8 text; the same document gives the same bytes.
    """
    layout = {"format": FORMAT, "schema_version": SCHEMA_VERSION, **document_to_layout(document)}
    return json_text(layout).encode()


def read_result(path: Path) -> ResultDocument:
    """Read a ``result.json``.

    Parameters
    ----------
    path : Path
        The file.

    Returns
    -------
    ResultDocument
        Equal to the one that was written.

    Raises
    ------
    ResultError
        It can't be read, is no such file, is damaged, or was written by a newer version.
    """
    try:
        size_mb = path.stat().st_size / 1e6
        if size_mb > LARGEST_RESULT_MB:
            raise ResultError(f"must have at most {LARGEST_RESULT_MB} MB, got {size_mb:.0f} MB", where=str(path))
        text = path.read_bytes()
    except OSError as error:
        raise ResultError(f"can't be read: {(error.strerror or str(error)).lower()}", where=str(path)) from error
    return parse_result(text, str(path))


def parse_result(text: bytes, where: str) -> ResultDocument:
    """Read the bytes of a ``result.json``.

    Parameters
    ----------
    text : bytes
        Content of the file.
    where : str
        Name of the file, for errors.

    Returns
    -------
    ResultDocument
        Equal to the one that was written.

    Raises
    ------
    ResultError
        As for `read_result`.
    """
    again = "analyse the recording again"
    try:
        # json would take a byte order mark for UTF-16, which the file never is
        layout = json.loads(text.decode("utf-8"), parse_constant=_refuse_constant)
    except json.JSONDecodeError as error:
        raise ResultError(
            f"is damaged or cut off ({error.msg.lower()})", where=f"{where}:{error.lineno}:{error.colno}", do=again
        ) from None
    except (ValueError, RecursionError):
        raise ResultError("is damaged or no JSON text", where=where, do=again) from None
    if not isinstance(layout, dict) or layout.get("format") != FORMAT:
        raise ResultError(f"is no result of this program (its format must be {FORMAT!r})", where=where)
    version = layout.get("schema_version")
    if isinstance(version, bool) or not isinstance(version, int) or version < 1:
        raise ResultError(f"schema_version must be a whole number from 1, got {version!r}", where=where, do=again)
    if version > SCHEMA_VERSION:
        raise ResultError(
            f"was written by a newer version (schema {version}; this program reads up to {SCHEMA_VERSION})",
            where=where,
            do="update imu-rom",
        )
    return document_from_layout(layout, where)


def _refuse_constant(name: str) -> float:
    raise ValueError(f"{name} is no JSON")


def result_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of ``result.json``.

    Returns
    -------
    dict
        The schema.
    """
    text = resources.files(__package__).joinpath("result_schema.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema
