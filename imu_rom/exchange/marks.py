"""Marks: a person's corrections of repetitions and sets, by time, for one recording."""

import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal

from imu_rom.errors import RecordingError, ResultError
from imu_rom.exchange.plain_values import build
from imu_rom.recording.model import InputFile
from imu_rom.session.result import Mark

__all__ = ["marks_from_bytes", "read_marks", "recording_sha256"]

LARGEST_MARKS_MB = 1
KEYS = {"recording_sha256", "marks"}
MARK_KEYS = {"action", "start_s", "stop_s", "reason", "by", "at"}
# files beside the samples are often the same for several recordings, so that they don't tell which one is meant
SIDECARS = (".json", "_channels.tsv", "_scans.tsv", "_events.tsv")


@dataclass(frozen=True)
class _CheckedMark:
    action: Literal["strike", "join", "split", "hold"]
    start_s: float
    stop_s: float
    reason: str
    by: str
    at: str


@dataclass(frozen=True)
class _Marks:
    recording_sha256: str
    marks: tuple[_CheckedMark, ...]


def read_marks(path: Path, recording_files: Sequence[InputFile]) -> tuple[tuple[Mark, ...], InputFile]:
    """Read a file of marks and check that it is about this recording.

    Parameters
    ----------
    path : Path
        JSON file ``{recording_sha256, marks: [{action, start_s, stop_s, reason, by, at}]}``.
    recording_files : sequence of InputFile
        Files that the recording was read from.

    Returns
    -------
    marks : tuple of Mark
        The marks in the file's order.
    file : InputFile
        Name and digest of the file, for the result's provenance.

    Raises
    ------
    RecordingError
        The file can't be read, a field is missing, unknown or wrong, or it is about another recording.
    """
    where = str(path)
    try:
        if path.stat().st_size > LARGEST_MARKS_MB * 1e6:
            raise RecordingError(f"must have at most {LARGEST_MARKS_MB} MB", where=where)
        if not path.is_file():
            raise RecordingError("must be a plain file, got a folder, device or pipe", where=where)
        text = path.read_bytes()
    except OSError as error:
        raise RecordingError(f"can't be read: {(error.strerror or str(error)).lower()}", where=where) from error
    return marks_from_bytes(text, where, recording_files), InputFile(
        path.name, hashlib.sha256(text).hexdigest(), "marks"
    )


def marks_from_bytes(text: bytes, where: str, recording_files: Sequence[InputFile]) -> tuple[Mark, ...]:
    """Read the content of a file of marks and check that it is about this recording.

    Parameters
    ----------
    text : bytes
        JSON, as `read_marks` takes it from a file.
    where : str
        What it is called in errors.
    recording_files : sequence of InputFile
        Files that the recording was read from.

    Returns
    -------
    tuple of Mark
        In their order.

    Raises
    ------
    RecordingError
        As `read_marks`.
    """
    try:
        values = json.loads(text)
    except json.JSONDecodeError as error:
        raise RecordingError(
            f"is no JSON ({error.msg.lower()})", where=f"{where}:{error.lineno}:{error.colno}"
        ) from None
    except (ValueError, RecursionError):
        raise RecordingError("is no JSON text", where=where) from None
    _check_keys(values, where)
    try:
        read = build(_Marks, values, where)
    except ResultError as error:
        raise RecordingError(error.what, where=error.where, do=error.do) from None
    measured = _measured(recording_files)
    if read.recording_sha256.lower() not in {each.sha256 for each in measured}:
        names = ", ".join(each.name for each in measured)
        raise RecordingError(
            f"the marks are for another recording: recording_sha256 must be that of {names}, "
            f"got {read.recording_sha256!r:.20}",
            where=where,
            do="take the marks that were made for this recording",
        )
    return tuple(_mark(each, f"{where}.marks[{index}]") for index, each in enumerate(read.marks))


def recording_sha256(inputs: Sequence[InputFile]) -> str | None:
    """Give the digest by which marks say which recording they are about.

    Parameters
    ----------
    inputs : sequence of InputFile
        All that a result was made from.

    Returns
    -------
    str or None
        SHA-256 of the first file with samples; None where there is none.
    """
    return next((each.sha256 for each in _measured(inputs) if each.role == "recording"), None)


def _measured(files: Sequence[InputFile]) -> list[InputFile]:
    return [each for each in files if not each.name.endswith(SIDECARS)]


def _check_keys(values: object, where: str) -> None:
    def check(item: object, known: set[str], place: str) -> None:
        unknown = sorted(item.keys() - known) if isinstance(item, dict) else []
        if unknown:
            raise RecordingError(
                f"has the unknown field {unknown[0]!r}; there are {', '.join(sorted(known))}", where=place
            )

    check(values, KEYS, where)
    if isinstance(values, dict) and isinstance(values.get("marks"), list):
        for index, each in enumerate(values["marks"]):
            check(each, MARK_KEYS, f"{where}.marks[{index}]")


def _mark(read: _CheckedMark, where: str) -> Mark:
    if not 0 <= read.start_s <= read.stop_s < float("inf"):
        raise RecordingError(
            f"start_s and stop_s must be seconds from the recording's start, start_s first, "
            f"got {read.start_s:g} and {read.stop_s:g}",
            where=where,
        )
    for name in ("reason", "by"):
        if not getattr(read, name).strip():
            raise RecordingError(f"{name} must not be empty", where=where)
    try:
        at = datetime.fromisoformat(read.at)
    except ValueError:
        at = None
    if at is None or at.tzinfo is None:
        raise RecordingError(
            f"at must be a time with its offset such as 2026-12-04T09:00:00+01:00, got {read.at!r:.40}", where=where
        )
    return Mark(read.action, read.start_s, read.stop_s, read.reason, read.by, read.at)
