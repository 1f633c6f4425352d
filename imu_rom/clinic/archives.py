"""Zip files unpacked within limits: whatever they say of themselves, no more is written than the limits allow.

Only the child process unpacks what patients send (`imu_rom.clinic.analysing`), with limits of memory and time of its
own, since even a list of contents can be made to fill the memory.
"""

import re
import stat
import struct
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path, PurePosixPath

from imu_rom.errors import RecordingError

__all__ = ["ArchiveLimits", "is_archive", "unpack"]

ENTRY_LIMIT = 1000
SIZE_LIMIT_MB = 1000.0
RATIO_LIMIT = 200.0
"""Motion as text shrinks to a third or a tenth; a thousandfold is made to do harm (common practice, no source)."""
_BLOCK_BYTES = 1 << 18
_LONGEST_NAME = 200
_DEEPEST = 12
_BEGINS = (b"PK\x03\x04", b"PK\x05\x06")
_METHODS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
# all that reading a damaged one was seen to raise, or may raise by its parts' documentation
_DAMAGES = (
    *(zipfile.BadZipFile, zlib.error, struct.error, EOFError, OSError),
    *(ArithmeticError, LookupError, RuntimeError, ValueError),
)
# what machines add by themselves
_NOT_SENT = re.compile(r"(^|/)(__MACOSX/|\.DS_Store$|\._|Thumbs\.db$|desktop\.ini$)")


@dataclass(frozen=True)
class ArchiveLimits:
    """What an archive may hold.

    Parameters
    ----------
    files : int
        How many files.
    unpacked_mb : float
        Size of all of them together.
    ratio : float
        How many times as large as the archive they may be together, where that is more than 10 MB.
    """

    files: int = ENTRY_LIMIT
    unpacked_mb: float = SIZE_LIMIT_MB
    ratio: float = RATIO_LIMIT


def is_archive(path: Path) -> bool:
    """Tell a zip file by how it begins, whatever its name.

    Parameters
    ----------
    path : Path
        A file.

    Returns
    -------
    bool
        True for a zip file.
    """
    with path.open("rb") as file:
        return file.read(4) in _BEGINS


def unpack(path: Path, into: Path, limits: ArchiveLimits | None = None) -> tuple[Path, ...]:
    """Unpack a zip file.

    Parameters
    ----------
    path : Path
        The archive.
    into : Path
        An empty folder.
    limits : ArchiveLimits, optional
        None takes the usual ones.

    Returns
    -------
    tuple of Path
        The files, plain ones, all of them below ``into``.

    Raises
    ------
    RecordingError
        It is damaged, holds links, archives or encrypted files, names places outside of itself, or too much. What was
        unpacked until then is for the caller to remove.
    """
    limits = limits or ArchiveLimits()
    where = path.name
    try:
        with zipfile.ZipFile(path) as archive:
            entries = [each for each in archive.infolist() if not each.is_dir() and not _NOT_SENT.search(each.filename)]
            if not entries:
                raise RecordingError(
                    "is a zip file without any files in it", where=where, do="send the recording's files"
                )
            if len(archive.infolist()) > limits.files:
                raise RecordingError(
                    f"must hold at most {limits.files} files, got {len(archive.infolist())}",
                    where=where,
                    do="send one session at a time",
                )
            places = [_place(each, where) for each in entries]
            _refuse_twice(places, where)
            left = _room(path.stat().st_size, limits)
            for entry, place in zip(entries, places, strict=True):
                left = _unpack_one(archive, entry, into / place, left, where)
    except _DAMAGES as error:
        raise RecordingError("is a damaged zip file", where=where, do="make it anew and send it again") from error
    return tuple(into / each for each in places)


def _room(packed_bytes: int, limits: ArchiveLimits) -> int:
    by_ratio = max(10e6, packed_bytes * limits.ratio)
    return int(min(limits.unpacked_mb * 1e6, by_ratio))


def _place(entry: zipfile.ZipInfo, where: str) -> PurePosixPath:
    name = entry.filename
    kind = stat.S_IFMT(entry.external_attr >> 16)
    if kind not in {0, stat.S_IFREG}:
        raise RecordingError("holds a link or a device, which is no file", where=where, do="send plain files")
    if entry.flag_bits & 0x1:
        raise RecordingError("holds encrypted files", where=where, do="make the zip file without a password")
    if entry.compress_type not in _METHODS:
        raise RecordingError("is packed in an unusual way", where=where, do="make it anew with the usual zip program")
    if "\\" in name or any(ord(letter) < 32 or letter in ':*?"<>|' for letter in name):
        raise RecordingError("holds a file whose name has signs that no file name has", where=where, do="rename it")
    place = PurePosixPath(name)
    if place.is_absolute() or ".." in place.parts or not place.parts:
        raise RecordingError("names a place outside of itself", where=where, do="send only files of the recording")
    if len(place.parts) > _DEEPEST or max(len(each) for each in place.parts) > _LONGEST_NAME:
        raise RecordingError(
            "holds too long a name, or too many folders within each other", where=where, do="rename it"
        )
    return place


def _refuse_twice(places: list[PurePosixPath], where: str) -> None:
    # names that some file systems can't tell apart, and a file that stands where another needs a folder
    names = [str(each).casefold() for each in places]
    folders = {str(above).casefold() for each in places for above in each.parents}
    if len(set(names)) < len(names) or folders & set(names):
        raise RecordingError("holds the same name twice", where=where, do="send each file once")


def _unpack_one(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, target: Path, left: int, where: str) -> int:
    target.parent.mkdir(parents=True, exist_ok=True)
    with archive.open(entry) as packed, target.open("xb") as file:
        first = packed.read(4)
        if first in _BEGINS:
            raise RecordingError("holds another zip file", where=where, do="send the files themselves, or one zip file")
        block = first
        while block:
            left -= len(block)
            if left < 0:
                raise RecordingError(
                    "becomes too large when it is unpacked", where=where, do="send one session at a time"
                )
            file.write(block)
            block = packed.read(_BLOCK_BYTES)
    return left
