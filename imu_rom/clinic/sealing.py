"""Encryption of stored files: AES-256 in Galois/Counter Mode, block by block, with a key from a file.

Each file has a key of its own, derived from the owner's by HKDF with a random salt, so that no nonce is ever used twice
under one key. A block's nonce is its number and whether it is the last: blocks that were exchanged, cut off or added
are refused (the construction of Hoang, Reyhanitabar, Rogaway and Vizar, CRYPTO 2015, from memory). A file's name stays
the SHA-256 of its content, so whoever holds a copy of a recording can find out that it is kept.
"""

import io
import os
import secrets
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, cast

from imu_rom.errors import ClinicError

__all__ = ["MAGIC", "Key", "Opened", "make_key_file", "read_key"]

KEY_BYTES = 32
MAGIC = b"imu-rom sealed 1"
"""What an encrypted file begins with."""
_SALT_BYTES = 32
_TAG_BYTES = 16
_BLOCK_BYTES = 1 << 16
_HEAD_BYTES = len(MAGIC) + _SALT_BYTES


@dataclass(frozen=True)
class Key:
    """The owner's key.

    Parameters
    ----------
    secret : bytes
        32 random bytes.
    """

    secret: bytes

    def __repr__(self) -> str:
        """Show that there is one, and nothing of it."""
        return "Key(...)"

    def sealed(self, blocks: Iterable[bytes]) -> Iterator[bytes]:
        """Encrypt a file.

        Parameters
        ----------
        blocks : iterable of bytes
            Its content, in blocks of any size.

        Yields
        ------
        bytes
            What is kept of it.
        """
        salt = secrets.token_bytes(_SALT_BYTES)
        cipher = _Cipher(self, salt)
        yield MAGIC + salt
        waiting = bytearray()
        number = 0
        for block in blocks:
            waiting += block
            # the last block is known only when nothing comes after it
            while len(waiting) > _BLOCK_BYTES:
                yield cipher.seal(number, bytes(waiting[:_BLOCK_BYTES]), last=False)
                del waiting[:_BLOCK_BYTES]
                number += 1
        yield cipher.seal(number, bytes(waiting), last=True)


class _Cipher:
    """Seals and opens the blocks of one file."""

    def __init__(self, key: Key, salt: bytes) -> None:
        from cryptography.hazmat.primitives import hashes  # noqa: PLC0415  only a store with a key needs it
        from cryptography.hazmat.primitives.ciphers.aead import AESGCM  # noqa: PLC0415
        from cryptography.hazmat.primitives.kdf.hkdf import HKDF  # noqa: PLC0415

        own = HKDF(hashes.SHA256(), KEY_BYTES, salt, MAGIC).derive(key.secret)
        self._aes = AESGCM(own)

    @staticmethod
    def _nonce(number: int, *, last: bool) -> bytes:
        return number.to_bytes(11, "big") + bytes([last])

    def seal(self, number: int, block: bytes, *, last: bool) -> bytes:
        return self._aes.encrypt(self._nonce(number, last=last), block, None)

    def open(self, number: int, block: bytes, *, last: bool) -> bytes:
        from cryptography.exceptions import InvalidTag  # noqa: PLC0415

        try:
            return self._aes.decrypt(self._nonce(number, last=last), block, None)
        except InvalidTag:
            raise ClinicError(
                "a stored file can't be decrypted: it was damaged, or encrypted with another key",
                do="give the key that it was kept with, or restore it from a backup",
            ) from None


class Opened(io.RawIOBase):
    """An encrypted file, open for reading from its beginning to its end.

    Parameters
    ----------
    key : Key
        The owner's.
    file : BinaryIO
        What is kept; closed with this one.
    """

    def __init__(self, key: Key, file: BinaryIO) -> None:
        self._file = file
        head = _read_exactly(file, _HEAD_BYTES)
        if len(head) != _HEAD_BYTES or not head.startswith(MAGIC):
            file.close()
            raise ClinicError(
                "a stored file is not encrypted, though a key is given",
                do="leave the key out, or keep all files anew with it",
            )
        self._cipher = _Cipher(key, head[len(MAGIC) :])
        self._number = 0
        self._ahead = _read_exactly(file, _BLOCK_BYTES + _TAG_BYTES)
        self._waiting = b""
        self._ended = False

    @classmethod
    def reader(cls, key: Key, file: BinaryIO) -> BinaryIO:
        """Open a file with the usual ways of reading.

        Parameters
        ----------
        key : Key
            The owner's.
        file : BinaryIO
            What is kept.

        Returns
        -------
        BinaryIO
            Its content.

        Raises
        ------
        ClinicError
            It was not encrypted, or, while it is read, was damaged or encrypted with another key.
        """
        return cast("BinaryIO", io.BufferedReader(cls(key, file), _BLOCK_BYTES))

    def readable(self) -> bool:
        """Tell that it can be read.

        Returns
        -------
        bool
            Always true.
        """
        return True

    def readinto(self, buffer: bytearray | memoryview) -> int:  # type: ignore[override]
        """Read some of it.

        Parameters
        ----------
        buffer : writable bytes
            Filled from its beginning.

        Returns
        -------
        int
            How many bytes; 0 at the end.

        Raises
        ------
        ClinicError
            It was damaged, or encrypted with another key.
        """
        while not self._waiting and not self._ended:
            block = self._ahead
            self._ahead = _read_exactly(self._file, _BLOCK_BYTES + _TAG_BYTES)
            self._ended = not self._ahead
            self._waiting = self._cipher.open(self._number, block, last=self._ended)
            self._number += 1
        count = min(len(buffer), len(self._waiting))
        buffer[:count] = self._waiting[:count]
        self._waiting = self._waiting[count:]
        return count

    def close(self) -> None:
        """Close it and what it is read from."""
        if not self.closed:
            self._file.close()
        super().close()


def _read_exactly(file: BinaryIO, count: int) -> bytes:
    parts, left = [], count
    while left and (part := file.read(left)):
        parts.append(part)
        left -= len(part)
    return b"".join(parts)


def make_key_file(path: Path) -> Key:
    """Make a new key.

    Parameters
    ----------
    path : Path
        Where it is kept, readable by this user alone; must not exist.

    Returns
    -------
    Key
        The key.

    Raises
    ------
    ClinicError
        There is a file already, or it can't be written.
    """
    secret = secrets.token_bytes(KEY_BYTES)
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "w", encoding="ascii") as file:
            file.write(secret.hex() + "\n")
            file.flush()
            os.fsync(file.fileno())
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise ClinicError(f"the key can't be written: {reason}", where=str(path)) from None
    return Key(secret)


def read_key(path: Path) -> Key:
    """Read the key.

    Parameters
    ----------
    path : Path
        64 hexadecimal digits.

    Returns
    -------
    Key
        The key.

    Raises
    ------
    ClinicError
        It can't be read, is no key, or other users can read it.
    """
    try:
        mode, text = path.stat().st_mode, path.read_text("ascii").strip()
        secret = bytes.fromhex(text)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise ClinicError(f"the key can't be read: {reason}", where=str(path), do="check that file") from None
    except ValueError:
        secret = b""
    if len(secret) != KEY_BYTES:
        raise ClinicError(
            f"a key must be {2 * KEY_BYTES} hexadecimal digits, got something else",
            where=str(path),
            do="check that file",
        )
    if os.name == "posix" and mode & 0o077:
        raise ClinicError(
            "a key must be readable by its owner alone", where=str(path), do=f"run chmod 600 {path.name} in its folder"
        )
    return Key(secret)
