"""The results of a course folder, ``results/**/result.json``, and an index beside them that makes reading them quick.

The index is a copy of what is needed of each result, with the size, time and SHA-256 of the file that it was taken
from. It may be deleted at any time: whatever is missing or damaged in it is read from the results again.
"""

import hashlib
import json
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from imu_rom.course.recorded import ResultSummary, result_summary
from imu_rom.dose.course_reading import Skipped
from imu_rom.errors import ResultError
from imu_rom.exchange.folder import whole_file
from imu_rom.exchange.plain_values import build, plain
from imu_rom.exchange.result import LARGEST_RESULT_MB, parse_result
from imu_rom.version import __version__

__all__ = [
    "FileStamp",
    "Index",
    "StoredFailure",
    "StoredFile",
    "StoredResult",
    "read_index",
    "read_results",
    "write_index",
]

RESULTS = "results"
INDEX_NAME = "imu-rom-index.json"
INDEX_FORMAT = "imu-rom course index"
INDEX_VERSION = 2


@dataclass(frozen=True)
class StoredFile:
    """A file as it was when its SHA-256 was worked out.

    Parameters
    ----------
    size : int
        Bytes.
    mtime_ns : int
        Time of its last change, in nanoseconds.
    sha256 : str
        Of its content.
    """

    size: int
    mtime_ns: int
    sha256: str


@dataclass(frozen=True)
class StoredResult:
    """One result of the folder.

    Parameters
    ----------
    file : StoredFile
        The ``result.json`` that it was taken from.
    summary : ResultSummary
        What it says.
    """

    file: StoredFile
    summary: ResultSummary


@dataclass(frozen=True)
class StoredFailure:
    """Why a recording could not be analysed, so that it is not tried again until something changes.

    Parameters
    ----------
    asked_sha256 : str
        Fingerprint of the recording, the plan and the settings that it was tried with.
    code : str
        Kind of the failure.
    why : str
        The sentence.
    """

    asked_sha256: str
    code: str
    why: str


@dataclass
class Index:
    """What is remembered from one reading of the folder to the next.

    Parameters
    ----------
    results : dict of str to StoredResult
        By place of the ``result.json`` within the course folder.
    files : dict of str to StoredFile
        Files of recordings, by place within the course folder.
    times : dict of str to str
        When a recording was made, by the SHA-256 of its samples, where reading them is what tells it.
    failures : dict of str to StoredFailure
        By place of the recording within the course folder.
    """

    results: dict[str, StoredResult] = field(default_factory=dict)
    files: dict[str, StoredFile] = field(default_factory=dict)
    times: dict[str, str] = field(default_factory=dict)
    failures: dict[str, StoredFailure] = field(default_factory=dict)


@dataclass(frozen=True)
class _IndexFile:
    results: dict[str, StoredResult]
    files: dict[str, StoredFile]
    times: dict[str, str]
    failures: dict[str, StoredFailure]


class FileStamp:
    """Tells whether files changed, and works out their SHA-256 only where they did.

    Parameters
    ----------
    folder : Path
        The course folder.
    known : dict of str to StoredFile
        Files by place within the folder; brought up to date.
    """

    def __init__(self, folder: Path, known: dict[str, StoredFile]) -> None:
        self.folder = folder
        self.known = known
        self.seen: set[str] = set()

    def sha256(self, path: Path) -> str:
        """Give the SHA-256 of a file.

        Parameters
        ----------
        path : Path
            A file below the folder.

        Returns
        -------
        str
            In hexadecimal digits.
        """
        place = path.relative_to(self.folder).as_posix()
        self.seen.add(place)
        stat = path.stat()
        stored = self.known.get(place)
        if stored is None or (stored.size, stored.mtime_ns) != (stat.st_size, stat.st_mtime_ns):
            with path.open("rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
            stored = self.known[place] = StoredFile(stat.st_size, stat.st_mtime_ns, digest)
        return stored.sha256


def read_index(folder: Path) -> Index:
    """Read the index.

    Parameters
    ----------
    folder : Path
        The course folder.

    Returns
    -------
    Index
        Empty where there is none, where it is damaged, or where another version of this program wrote it.
    """
    try:
        values = json.loads((folder / RESULTS / INDEX_NAME).read_bytes())
        head = (values["format"], values["schema_version"], values["program_version"])
        if head != (INDEX_FORMAT, INDEX_VERSION, __version__):
            return Index()
        read = build(_IndexFile, values, INDEX_NAME)
    except (OSError, ValueError, KeyError, TypeError, RecursionError, ResultError):
        return Index()
    return Index(dict(read.results), dict(read.files), dict(read.times), dict(read.failures))


def write_index(folder: Path, index: Index) -> None:
    """Write the index, whole or not at all.

    Parameters
    ----------
    folder : Path
        The course folder; without results nothing is written.
    index : Index
        What is to be remembered.

    Raises
    ------
    OutputError
        The place can't be written.
    """
    if not (folder / RESULTS).is_dir():
        return
    head: dict[str, Any] = {
        "format": INDEX_FORMAT,
        "schema_version": INDEX_VERSION,
        "program_version": __version__,
    }
    values = {name: plain(getattr(index, name)) for name in ("results", "files", "times", "failures")}
    ordered = {name: dict(sorted(each.items())) for name, each in values.items()}
    text = json.dumps({**head, **ordered}, ensure_ascii=False, allow_nan=False)
    place = folder / RESULTS / INDEX_NAME
    beginning = b""
    if place.is_file():
        # the name is this program's own, so a damaged one is replaced too
        with place.open("rb") as file:
            beginning = file.read(8)
        if not beginning:
            place.unlink()
    whole_file(place, [text.encode()], replaces=beginning)


def read_results(folder: Path, index: Index) -> tuple[dict[str, StoredResult], list[Skipped]]:
    """Read the results of a folder; those that did not change come from the index, which is brought up to date.

    Parameters
    ----------
    folder : Path
        The course folder.
    index : Index
        What is remembered.

    Returns
    -------
    results : dict of str to StoredResult
        By place within the folder, in order of places.
    skipped : list of Skipped
        Those that are damaged or of another kind.
    """
    results: dict[str, StoredResult] = {}
    skipped = []
    for path in sorted((folder / RESULTS).rglob("result.json")):
        place = path.relative_to(folder).as_posix()
        try:
            results[place] = _stored(path, index.results.get(place))
        except (ResultError, OSError) as error:
            where, why = place, f"can't be read: {(getattr(error, 'strerror', '') or '').lower()}."
            if isinstance(error, ResultError):
                # line and column, or which value
                where += error.where.removeprefix(str(path))
                why = f"{error.what}{error.do and f'; {error.do}'}."
            skipped.append(Skipped("result", where, "damaged-result", why))
    index.results = results
    return results, skipped


def _stored(path: Path, known: StoredResult | None) -> StoredResult:
    stat = path.stat()
    if known is not None and (known.file.size, known.file.mtime_ns) == (stat.st_size, stat.st_mtime_ns):
        return known
    if stat.st_size > LARGEST_RESULT_MB * 1e6:
        raise ResultError(f"must have at most {LARGEST_RESULT_MB} MB, got {stat.st_size / 1e6:.0f} MB", where=str(path))
    content = path.read_bytes()
    file = StoredFile(stat.st_size, stat.st_mtime_ns, hashlib.sha256(content).hexdigest())
    if known is not None and known.file.sha256 == file.sha256:
        return replace(known, file=file)
    return StoredResult(file, result_summary(parse_result(content, str(path))))
