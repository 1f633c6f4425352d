"""One run at a time in a folder: a lock that ends with its process, however that ends."""

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from imu_rom.errors import OutputError

__all__ = ["alone_in"]


@contextmanager
def alone_in(folder: Path) -> Iterator[None]:
    """Keep other runs out of a folder for the time of the block.

    The lock is on the folder itself and kept by the system (``flock``), so that nothing of it can be left behind.
    Systems and file systems without it go without.

    Parameters
    ----------
    folder : Path
        It exists.

    Yields
    ------
    None
        While no other run is there.

    Raises
    ------
    OutputError
        Another one is.
    """
    try:
        import fcntl  # noqa: PLC0415  not on every system
    except ImportError:
        yield
        return
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError as error:
        raise OutputError(
            f"can't be opened: {(error.strerror or str(error)).lower()}",
            where=str(folder),
            do="check your rights there",
        ) from error
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise OutputError(
                "another imu-rom cohort is at work in it",
                where=str(folder),
                do="wait for its end, or name another folder",
            ) from None
        except OSError:
            pass  # a file system that knows no locks
        yield
    finally:
        os.close(handle)
