"""Files kept by their content: a file's name is the SHA-256 of what is in it, so that it can't be another's by mistake.

A file is written whole or not at all: under a temporary name, flushed to the disk, renamed, its folder flushed. Whoever
names a file in the database does so afterwards. Putting the same content again replaces the file by itself, which also
mends one that was damaged.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Protocol

from imu_rom.clinic.sealing import Key
from imu_rom.errors import ClinicError

__all__ = ["StoredFile", "StoredFiles", "blocks_of", "open_files"]

BLOCK_BYTES = 1 << 18


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
        from imu_rom.clinic.folder_files import FolderFiles  # noqa: PLC0415  it imports this file

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
