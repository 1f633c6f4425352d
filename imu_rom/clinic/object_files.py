"""Files kept in an object store, through fsspec: each is put whole, once, under the SHA-256 of its content.

What is relied on is that an object appears whole or not at all, as the stores of large providers promise of one put;
a server of plain files (sftp, ftp) doesn't promise it and is no place for recordings.
"""

import hashlib
import tempfile
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, cast

from imu_rom.clinic.sealing import Key, Opened
from imu_rom.clinic.stored_files import StoredFile, blocks_of, check_name, missing, not_kept, refuse_above
from imu_rom.errors import ClinicError, MissingExtraError

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["ObjectFiles"]


class ObjectFiles:
    """Files in an object store.

    Parameters
    ----------
    url : str
        Such as ``s3://bucket/recordings``; where the secrets for it are is the store's own business.
    key : Key, optional
        With it the files are encrypted before they leave this machine.
    """

    def __init__(self, url: str, key: Key | None = None) -> None:
        try:
            from fsspec.core import url_to_fs  # noqa: PLC0415  an extra
        except ImportError:
            raise MissingExtraError(
                "an object store needs fsspec", where=url, do="pip install 'imu-rom[remote]'"
            ) from None
        open_store: Callable[[str], tuple[Any, str]] = url_to_fs
        try:
            self._store, self._root = open_store(url)
        except ImportError as error:
            raise MissingExtraError(f"this address needs more: {error}", where=url, do="install it") from None
        except ValueError as error:
            raise ClinicError(f"is no address of a store: {error}", where=url, do="check the address") from None
        self.key = key

    def _place(self, sha256: str) -> str:
        check_name(sha256)
        return f"{self._root}/{sha256[:2]}/{sha256}"

    def put(self, content: bytes | BinaryIO | Iterable[bytes], *, largest_bytes: int | None = None) -> StoredFile:
        """Keep a file; see `imu_rom.clinic.stored_files.StoredFiles.put`.

        Parameters
        ----------
        content : bytes, binary file or iterable of bytes
            Read to its end.
        largest_bytes : int, optional
            More is refused, and nothing kept.

        Returns
        -------
        StoredFile
            After the store has taken it.

        Raises
        ------
        ClinicError
            It is too large, or the store did not take it.
        """
        digest, size = hashlib.sha256(), 0

        def counted() -> Iterator[bytes]:
            nonlocal size
            for block in blocks_of(content):
                size += len(block)
                refuse_above(size, largest_bytes)
                digest.update(block)
                yield block

        try:
            # its name is known only at its end, so it is written here before
            with tempfile.TemporaryDirectory(prefix="imu-rom-") as folder:
                coming = Path(folder) / "coming"
                with coming.open("xb") as file:
                    file.writelines(counted() if self.key is None else self.key.sealed(counted()))
                place = self._place(digest.hexdigest())
                self._store.makedirs(place.rpartition("/")[0], exist_ok=True)
                self._store.put_file(str(coming), place)
        except OSError as error:
            raise not_kept(error) from error
        return StoredFile(digest.hexdigest(), size)

    def open(self, sha256: str) -> BinaryIO:
        """Open a file for reading; see `imu_rom.clinic.stored_files.StoredFiles.open`.

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
            file = cast("BinaryIO", self._store.open(self._place(sha256), "rb"))
        except FileNotFoundError:
            raise missing(sha256) from None
        return file if self.key is None else Opened.reader(self.key, file)

    def remove(self, sha256: str) -> None:
        """Remove a file; one that is not there is removed already.

        Parameters
        ----------
        sha256 : str
            Its name.
        """
        if self.has(sha256):
            self._store.rm_file(self._place(sha256))

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
        place = self._place(sha256)
        # other machines write too, so what was listed before tells nothing
        self._store.invalidate_cache()
        return bool(self._store.isfile(place))

    def names(self) -> Iterator[str]:
        """List all files.

        Yields
        ------
        str
            Their SHA-256, in no order.
        """
        self._store.invalidate_cache()
        if self._store.isdir(self._root):
            for place in self._store.find(self._root):
                name = place.rpartition("/")[2]
                if len(name) == 64:
                    yield name

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
        try:
            modified = self._store.modified(self._place(sha256))
        except (FileNotFoundError, NotImplementedError):
            return None
        return int(modified.timestamp() * 1000)

    def clear_left_behind(self, now_ms: int) -> int:
        """Do nothing: an object appears whole or not at all.

        Parameters
        ----------
        now_ms : int
            Not used.

        Returns
        -------
        int
            Always 0.
        """
        del now_ms
        return 0
