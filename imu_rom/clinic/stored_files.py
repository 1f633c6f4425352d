"""Files kept by their content: a file's name is the SHA-256 of what is in it, so that it can't be another's by mistake.

A file is written whole or not at all: under a temporary name, flushed to the disk, renamed, its folder flushed. Whoever
names a file in the database does so afterwards. Putting the same content again replaces the file by itself, which also
mends one that was damaged.
"""

import hashlib
import os
import secrets
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Protocol

from imu_rom.clinic.sealing import Key, Opened
from imu_rom.errors import ClinicError

__all__ = ["FolderFiles", "StoredFile", "StoredFiles", "blocks_of", "open_files", "sync_folder"]

BLOCK_BYTES = 1 << 18
_COMING = "coming"
_LEFT_BEHIND_S = 24 * 3600
"""Temporary names older than this are of a process that ended in the middle (common practice, no source)."""


@dataclass(frozen=True)
class StoredFile:
    """A file that is kept.

    Parameters
    ----------
    sha256 : str
        Of its content, in hexadecimal digits: its name.
    size : int
        Bytes of its content.
    """

    sha256: str
    size: int


class StoredFiles(Protocol):
    """Keeps files by their content."""

    def put(self, content: bytes | BinaryIO | Iterable[bytes], *, largest_bytes: int | None = None) -> StoredFile:
        """Keep a file.

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
        ...

    def open(self, sha256: str) -> BinaryIO:
        """Open a file for reading.

        Parameters
        ----------
        sha256 : str
            Its name.

        Returns
        -------
        BinaryIO
            To be closed by the one who asked; it can be searched through where the store can.

        Raises
        ------
        ClinicError
            It is not there, or can't be opened with this key.
        """
        ...

    def remove(self, sha256: str) -> None:
        """Remove a file; one that is not there is removed already.

        Parameters
        ----------
        sha256 : str
            Its name.
        """
        ...

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
        ...

    def names(self) -> Iterator[str]:
        """List all files.

        Yields
        ------
        str
            Their SHA-256, in no order.
        """
        ...

    def put_at_ms(self, sha256: str) -> int | None:
        """Tell when a file was put last.

        Parameters
        ----------
        sha256 : str
            Its name.

        Returns
        -------
        int or None
            By the store's clock; None where it is not there, or the store can't tell.
        """
        ...

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
        ...


def blocks_of(content: bytes | BinaryIO | Iterable[bytes]) -> Iterator[bytes]:
    """Cut content into blocks.

    Parameters
    ----------
    content : bytes, binary file or iterable of bytes
        Read to its end.

    Yields
    ------
    bytes
        None of them empty.
    """
    if isinstance(content, bytes):
        yield from (content[at : at + BLOCK_BYTES] for at in range(0, len(content), BLOCK_BYTES))
    elif hasattr(content, "read"):
        while block := content.read(BLOCK_BYTES):
            yield block
    else:
        yield from (each for each in content if each)


def check_name(sha256: str) -> None:
    """Refuse a name that is none, before it becomes part of a path.

    Parameters
    ----------
    sha256 : str
        The name.

    Raises
    ------
    ClinicError
        It is no SHA-256.
    """
    if len(sha256) != 64 or set(sha256) - set("0123456789abcdef"):
        raise ClinicError(f"a stored file's name must be a SHA-256, got {sha256!r:.20}")


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


def open_files(url: str, key: Key | None = None) -> StoredFiles:
    """Open the store of files.

    Parameters
    ----------
    url : str
        A folder, as a path or ``file:`` address; any other address is an object store, which needs the extra
        ``remote``.
    key : Key, optional
        With it the files are encrypted.

    Returns
    -------
    StoredFiles
        The store.

    Raises
    ------
    MissingExtraError
        What the address needs is not installed.
    """
    if "://" not in url or url.startswith("file://"):
        return FolderFiles(Path(url.removeprefix("file://")), key)
    from imu_rom.clinic.object_files import ObjectFiles  # noqa: PLC0415  needs an extra

    return ObjectFiles(url, key)


def refuse_above(size: int, largest_bytes: int | None) -> None:
    """Refuse a file that is too large.

    Parameters
    ----------
    size : int
        Bytes so far.
    largest_bytes : int or None
        The limit.

    Raises
    ------
    ClinicError
        It is above it.
    """
    if largest_bytes is not None and size > largest_bytes:
        raise ClinicError(
            f"a file must have at most {largest_bytes / 1e6:.0f} MB, and this one has more",
            do="send a shorter recording, or one file a sensor",
        )


def missing(sha256: str) -> ClinicError:
    """Say that a file is not there.

    Parameters
    ----------
    sha256 : str
        Its name.

    Returns
    -------
    ClinicError
        To be raised.
    """
    return ClinicError(f"the stored file {sha256[:12]} is missing", do="restore it from a backup")


def not_kept(error: OSError) -> ClinicError:
    """Say that a file can't be kept.

    Parameters
    ----------
    error : OSError
        Why.

    Returns
    -------
    ClinicError
        To be raised; nothing was kept.
    """
    reason = (error.strerror or str(error)).lower()
    return ClinicError(f"the file can't be kept: {reason}", do="try again later; the owner must make room")


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
