"""Files kept by their content in a folder of this machine, or of one that all machines see."""

import hashlib
import os
import secrets
from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import BinaryIO

from imu_rom.clinic.sealing import Key, Opened
from imu_rom.clinic.stored_files import StoredFile, blocks_of, check_name, missing, not_kept, refuse_above

__all__ = ["FolderFiles", "sync_folder"]

_COMING = "coming"
_LEFT_BEHIND_S = 24 * 3600
"""Temporary names older than this are of a process that ended in the middle (common practice, no source)."""


class FolderFiles:
    """Files in a folder of this machine, or of one that all machines see.

    Parameters
    ----------
    folder : Path
        Made where it is missing, for this user alone.
    key : Key, optional
        With it the files are encrypted.
    """

    def __init__(self, folder: Path, key: Key | None = None) -> None:
        self.folder = folder
        self.key = key

    def _path(self, sha256: str) -> Path:
        check_name(sha256)
        return self.folder / sha256[:2] / sha256

    def put(self, content: bytes | BinaryIO | Iterable[bytes], *, largest_bytes: int | None = None) -> StoredFile:
        """Keep a file; see `StoredFiles.put`.

        Parameters
        ----------
        content : bytes, binary file or iterable of bytes
            Read to its end.
        largest_bytes : int, optional
            More is refused, and nothing kept.

        Returns
        -------
        StoredFile
            After it is safe on the disk.

        Raises
        ------
        ClinicError
            It is too large, or can't be written.
        """
        coming = self.folder / _COMING / secrets.token_hex(16)
        digest, size = hashlib.sha256(), 0

        def counted() -> Iterator[bytes]:
            nonlocal size
            for block in blocks_of(content):
                size += len(block)
                refuse_above(size, largest_bytes)
                digest.update(block)
                yield block

        try:
            _make_folder(coming.parent)
            coming.touch(0o600, exist_ok=False)
            with coming.open("wb") as file:
                file.writelines(counted() if self.key is None else self.key.sealed(counted()))
                file.flush()
                os.fsync(file.fileno())
            path = self._path(digest.hexdigest())
            _make_folder(path.parent)
            coming.replace(path)
            sync_folder(path.parent)
        except OSError as error:
            raise not_kept(error) from error
        finally:
            with suppress(OSError):
                coming.unlink(missing_ok=True)
        return StoredFile(digest.hexdigest(), size)

    def open(self, sha256: str) -> BinaryIO:
        """Open a file for reading; see `StoredFiles.open`.

        Parameters
        ----------
        sha256 : str
            Its name.

        Returns
        -------
        BinaryIO
            To be closed by the one who asked.

        Raises
        ------
        ClinicError
            It is not there, or can't be opened with this key.
        """
        try:
            file = self._path(sha256).open("rb")
        except FileNotFoundError:
            raise missing(sha256) from None
        return file if self.key is None else Opened.reader(self.key, file)

    def remove(self, sha256: str) -> None:
        """Remove a file; see `StoredFiles.remove`.

        Parameters
        ----------
        sha256 : str
            Its name.
        """
        path = self._path(sha256)
        path.unlink(missing_ok=True)
        if path.parent.exists():
            sync_folder(path.parent)

    def has(self, sha256: str) -> bool:
        """Tell whether a file is there.

        Parameters
        ----------
        sha256 : str
            Its name.

        Returns
        -------
        bool
            True where it is.
        """
        return self._path(sha256).is_file()

    def names(self) -> Iterator[str]:
        """List all files.

        Yields
        ------
        str
            Their SHA-256, in no order.
        """
        if self.folder.is_dir():
            for beginning in self.folder.iterdir():
                if len(beginning.name) == 2:
                    yield from (each.name for each in beginning.iterdir() if len(each.name) == 64)

    def put_at_ms(self, sha256: str) -> int | None:
        """Tell when a file was put last.

        Parameters
        ----------
        sha256 : str
            Its name.

        Returns
        -------
        int or None
            By the disk's clock; None where it is not there.
        """
        try:
            return self._path(sha256).stat().st_mtime_ns // 1_000_000
        except FileNotFoundError:
            return None

    def clear_left_behind(self, now_ms: int) -> int:
        """Remove what was being written by a process that ended in the middle.

        Parameters
        ----------
        now_ms : int
            The time.

        Returns
        -------
        int
            How many.
        """
        coming, count = self.folder / _COMING, 0
        for each in coming.iterdir() if coming.is_dir() else ():
            with suppress(FileNotFoundError):
                if each.stat().st_mtime < now_ms / 1000 - _LEFT_BEHIND_S:
                    each.unlink()
                    count += 1
        return count


def _make_folder(folder: Path) -> None:
    if folder.is_dir():
        return
    above = folder.parent
    if not above.is_dir():
        _make_folder(above)
    folder.mkdir(mode=0o700, exist_ok=True)
    sync_folder(above)


def sync_folder(folder: Path) -> None:
    """Have the disk keep what was written into a folder, or a file.

    Parameters
    ----------
    folder : Path
        Which.
    """
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
