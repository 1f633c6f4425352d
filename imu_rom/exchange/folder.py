"""Folders and files that appear whole or not at all.

Everything is written under a temporary name beside its destination, flushed to the disk, and renamed. Whatever stops
the writing, an error, a full disk or Ctrl-C, leaves the destination as it was and removes the temporary name.
"""

import os
import secrets
import shutil
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from imu_rom.errors import OutputError

__all__ = ["CHECK_FILES", "RESULT_FILES", "check_destination", "whole_file", "whole_folder"]

CHECK_FILES = ("check.json", "check.html")
RESULT_FILES = ("result.json", "repetitions.csv", "sets.csv", "angle.csv", "report.html")
# made from a result afterwards: who replaces the result doesn't want them to stay
MADE_LATER = frozenset({"patient.html"})


def _reason(error: OSError) -> str:
    return (error.strerror or str(error)).lower()


def _flush(path: Path) -> None:
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _check_parent(path: Path) -> None:
    parent = path.parent
    if not parent.exists():
        raise OutputError(
            f"can't be written, because there is no folder {parent}", where=str(path), do="make that folder first"
        )
    if not parent.is_dir():
        raise OutputError(f"can't be written, because {parent} is a file", where=str(path), do="name another place")
    if not os.access(parent, os.W_OK | os.X_OK):
        raise OutputError(
            f"can't be written, because {parent} is read-only here", where=str(path), do="name another place"
        )


def check_destination(path: Path, *, overwrite: bool = False, files: Sequence[str] = RESULT_FILES) -> None:
    """Refuse a folder that can't take a result, before any work is spent on it.

    Parameters
    ----------
    path : Path
        Folder to be written.
    overwrite : bool
        True where an earlier result may be replaced.
    files : sequence of str
        What an earlier result consists of.

    Raises
    ------
    OutputError
        It exists and ``overwrite`` is false; it is a file; it holds something that is no part of a result, which
        replacing it would destroy; or the folder it should lie in is missing.
    """
    path = Path(os.path.abspath(path))  # noqa: PTH100  resolve() would follow a link and replace what it points to
    where = str(path)
    _check_parent(path)
    if not os.path.lexists(path):
        return
    if path.is_symlink() or not path.is_dir():
        raise OutputError("exists and is no folder", where=where, do="name another folder")
    if not overwrite:
        raise OutputError("exists already", where=where, do="name another folder, or add --overwrite to replace it")
    strangers = sorted({each.name for each in path.iterdir()} - set(files) - MADE_LATER)
    if strangers:
        raise OutputError(
            f"is not replaced, because it holds {strangers[0]!r}, which is no part of a result",
            where=where,
            do="move that away or name another folder",
        )


@contextmanager
def whole_folder(path: Path, *, overwrite: bool = False, files: Sequence[str] = RESULT_FILES) -> Iterator[Path]:
    """Fill a folder under a temporary name; it gets its own name when the block ends without an error.

    Parameters
    ----------
    path : Path
        Folder to be written.
    overwrite : bool
        True where an earlier result may be replaced: the old one is renamed aside, the new one in, the old one deleted.
    files : sequence of str
        What an earlier result consists of.

    Yields
    ------
    Path
        The temporary folder, to be filled with files.

    Raises
    ------
    OutputError
        As for `check_destination`, or the disk refuses.
    """
    path = Path(os.path.abspath(path))  # noqa: PTH100  see check_destination
    check_destination(path, overwrite=overwrite, files=files)
    token = secrets.token_hex(4)
    filling = path.with_name(f".{path.name}.{token}.filling")
    aside = path.with_name(f".{path.name}.{token}.replaced")
    try:
        filling.mkdir()
        yield filling
        for each in filling.iterdir():
            _flush(each)
        _flush(filling)
        if path.exists():
            path.rename(aside)
        filling.rename(path)
        _flush(path.parent)
    except OSError as error:
        raise OutputError(
            f"can't be written: {_reason(error)}", where=str(path), do="check the place and the space left there"
        ) from error
    finally:
        # an old result set aside goes back where the new one did not arrive
        if aside.exists() and not path.exists():
            aside.rename(path)
        shutil.rmtree(filling, ignore_errors=True)
        shutil.rmtree(aside, ignore_errors=True)


def whole_file(path: Path, blocks: Iterable[bytes], *, replaces: bytes = b"", inputs: Sequence[Path] = ()) -> None:
    """Write a file under a temporary name and rename it.

    Parameters
    ----------
    path : Path
        File to be written.
    blocks : iterable of bytes
        Its content.
    replaces : bytes
        An existing file is replaced only where it begins with these bytes, so that nothing of another kind is lost.
    inputs : sequence of Path
        Files that were read; none of them is ever replaced.

    Raises
    ------
    OutputError
        It exists and is of another kind, or can't be written.
    """
    path = Path(os.path.abspath(path))  # noqa: PTH100  see check_destination
    where = str(path)
    _check_parent(path)
    if os.path.lexists(path):
        if not path.is_file() or any(each.exists() and each.samefile(path) for each in inputs):
            raise OutputError("exists and can't be replaced", where=where, do="name another file")
        with path.open("rb") as file:
            if not replaces or file.read(len(replaces)) != replaces:
                raise OutputError("exists and is of another kind", where=where, do="name another file")
    filling = path.with_name(f".{path.name}.{secrets.token_hex(4)}.filling")
    try:
        with filling.open("wb") as file:
            file.writelines(blocks)
            file.flush()
            os.fsync(file.fileno())
        filling.replace(path)
        _flush(path.parent)
    except OSError as error:
        raise OutputError(
            f"can't be written: {_reason(error)}", where=where, do="check the place and the space left there"
        ) from error
    finally:
        filling.unlink(missing_ok=True)
