"""A BIDS dataset in a folder or behind an address: its recordings, and their files brought to hand."""

import csv
import io
import os
import re
import tempfile
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath
from typing import Any

from imu_rom.course.recordings import MOTION, NOT_RAW, sidecar_names
from imu_rom.errors import CohortError, MissingExtraError

__all__ = ["Dataset", "DatasetRecording", "recordings_among"]

_SCANS = "_scans.tsv"


@dataclass(frozen=True)
class DatasetRecording:
    """One recording of a dataset.

    Parameters
    ----------
    place : str
        Its ``_motion.tsv`` within the dataset.
    session : str
        Its name; no two recordings of a dataset have the same.
    files : tuple of str
        All files that it is read from, itself first, within the dataset.
    partner : str or None
        The ``_motion.tsv`` of the other sensor, where two were started by themselves and each has a file of its own.
    points : tuple of str
        Then the tracked points of both files, this one's first; empty else.
    """

    place: str
    session: str
    files: tuple[str, ...]
    partner: str | None = None
    points: tuple[str, ...] = ()

    def label(self, entity: str) -> str | None:
        """Give a BIDS label of its name.

        Parameters
        ----------
        entity : str
            Such as ``"run"``.

        Returns
        -------
        str or None
            None where its name has none.
        """
        match = re.search(rf"(?:^|_){entity}-([0-9A-Za-z]+)", PurePosixPath(self.place).name)
        return match[1] if match else None

    @property
    def participant(self) -> str | None:
        """BIDS subject label of its name, or of the folder that it lies in."""
        match = re.search(r"(?:^|/)sub-([0-9A-Za-z]+)/", self.place)
        return self.label("sub") or (match[1] if match else None)


def recordings_among(
    places: Iterable[str], points_of: Callable[[str], tuple[str, ...]] | None = None
) -> tuple[DatasetRecording, ...]:
    """Find the recordings among the files of a dataset.

    Parameters
    ----------
    places : iterable of str
        Files within the dataset; those of ``sourcedata`` and ``derivatives`` and hidden ones are left alone.
    points_of : callable, optional
        Tells which tracked points a ``_motion.tsv`` has inertial sensors on. With it two files of one name but for
        their tracking system, with one sensor each on different points, are one recording.

    Returns
    -------
    tuple of DatasetRecording
        In order of participants, then of places.
    """
    kept = {each for each in places if _is_raw(each) and each.endswith((MOTION, _SCANS, ".json", ".tsv"))}
    scans: dict[PurePosixPath, list[str]] = {}
    for each in sorted(kept):
        if each.endswith(_SCANS):
            scans.setdefault(PurePosixPath(each).parent, []).append(each)
    motions = sorted(each for each in kept if each.endswith(MOTION))
    names = Counter(PurePosixPath(each).name for each in motions)
    found = []
    for motion in motions:
        path = PurePosixPath(motion)
        beside = [str(path.with_name(name)) for name in sidecar_names(path.name)]
        files = (motion, *(each for each in beside if each in kept), *scans.get(path.parent.parent, ()))
        session = path.name.removesuffix(MOTION) if names[path.name] == 1 else motion.removesuffix(MOTION)
        found.append(DatasetRecording(motion, session, files))
    if points_of is not None:
        found = _paired(found, points_of)
    return tuple(sorted(found, key=lambda each: (each.participant or "", each.place)))


def _paired(
    recordings: Sequence[DatasetRecording], points_of: Callable[[str], tuple[str, ...]]
) -> list[DatasetRecording]:
    """Join the files of two sensors that were started by themselves."""
    alike: dict[str, list[DatasetRecording]] = {}
    for each in recordings:
        alike.setdefault(re.sub(r"_tracksys-[0-9A-Za-z]+(?=_)", "", each.place), []).append(each)
    found: list[DatasetRecording] = []
    for same in alike.values():
        points = [points_of(each.place) for each in same] if len(same) == 2 else []
        if [len(each) for each in points] == [1, 1] and points[0] != points[1]:
            first, second = same
            files = tuple(dict.fromkeys((*first.files, *second.files)))
            both = (*points[0], *points[1])
            found.append(replace(first, files=files, partner=second.place, points=both))
        else:
            found += same
    return found


def _is_raw(place: str) -> bool:
    return not any(part.startswith(".") or part in NOT_RAW for part in PurePosixPath(place).parts)


def _below(root: str, place: str) -> str:
    return f"{root}/{place}" if root else place


@dataclass(frozen=True)
class Dataset:
    """Where a dataset lies.

    Parameters
    ----------
    address : str
        An absolute folder, or an address as fsspec reads it (``"s3://bucket/dataset"``).
    """

    address: str

    @classmethod
    def at(cls, given: str) -> "Dataset":
        """Take what a user names.

        Parameters
        ----------
        given : str
            A folder, or an address with ``://`` in it.

        Returns
        -------
        Dataset
            That can be walked from any process.

        Raises
        ------
        CohortError
            There is no such folder.
        """
        if "://" in given:
            return cls(given)
        folder = Path(given)
        if not folder.is_dir():
            what = "must be the folder of a dataset, got a file" if folder.exists() else "there is no such folder"
            raise CohortError(what, where=given, do="name the folder that holds the sub-* folders")
        return cls(os.path.abspath(folder))  # noqa: PTH100  a link's own name is kept

    @property
    def is_remote(self) -> bool:
        """True behind an address."""
        return "://" in self.address

    def recordings(self) -> tuple[DatasetRecording, ...]:
        """Walk the dataset.

        Returns
        -------
        tuple of DatasetRecording
            In order of participants, then of places.

        Raises
        ------
        CohortError
            The address can't be walked, or there is no recording.
        MissingExtraError
            The address needs a package that is not installed.
        """
        found = recordings_among(self._listed() if self.is_remote else self._walked(), self._points_of)
        if not found:
            raise CohortError(
                f"holds no *{MOTION}", where=self.address, do="name the folder of a BIDS dataset with motion recordings"
            )
        return found

    def _points_of(self, motion: str) -> tuple[str, ...]:
        """Read from a recording's channels on which tracked points it has inertial sensors."""
        content = self.content(f"{motion.removesuffix(MOTION)}_channels.tsv") or b""
        rows = csv.DictReader(io.StringIO(content.decode("utf-8-sig", errors="replace")), delimiter="\t")
        found = (each.get("tracked_point") for each in rows if each.get("type") in {"ACCEL", "GYRO"})
        return tuple(dict.fromkeys(each for each in found if each))

    def _walked(self) -> Iterator[str]:
        root = Path(self.address)
        for place, folders, names in os.walk(root):
            folders[:] = [each for each in folders if not each.startswith(".") and each not in NOT_RAW]
            within = Path(place).relative_to(root)
            yield from ((within / each).as_posix() for each in names)

    def _listed(self) -> list[str]:
        try:
            system, root = self._opened()
            found = [str(each) for each in system.find(root)]
        except (OSError, ValueError) as error:
            raise CohortError(
                f"can't be walked: {error}", where=self.address, do="check the address and your access to it"
            ) from None
        return [each.removeprefix(root).lstrip("/") for each in found]

    def _opened(self) -> tuple[Any, str]:
        try:
            from fsspec.core import url_to_fs  # noqa: PLC0415  an extra
        except ImportError:
            raise MissingExtraError(
                "an address needs fsspec", where=self.address, do="pip install 'imu-rom[remote]'"
            ) from None
        try:
            system, root = url_to_fs(self.address)
        except ImportError as error:
            raise MissingExtraError(str(error).rstrip("."), where=self.address, do="install that package") from None
        return system, str(root).rstrip("/")

    def content(self, place: str) -> bytes | None:
        """Read one small file.

        Parameters
        ----------
        place : str
            Within the dataset.

        Returns
        -------
        bytes or None
            None where there is none, or it can't be read.
        """
        try:
            if not self.is_remote:
                return Path(self.address, place).read_bytes()
            system, root = self._opened()
            return bytes(system.cat_file(_below(root, place)))
        except OSError:
            return None

    @contextmanager
    def at_hand(self, recording: DatasetRecording) -> Iterator[Path]:
        """Bring a recording's files into a folder where they can be read.

        Parameters
        ----------
        recording : DatasetRecording
            One of the dataset's.

        Yields
        ------
        Path
            The folder that stands for the dataset's; from an address the files are copied, and the copy goes away.

        Raises
        ------
        OSError
            A file can't be copied.
        """
        if not self.is_remote:
            yield Path(self.address)
            return
        system, root = self._opened()
        with tempfile.TemporaryDirectory(prefix="imu-rom-") as folder:
            for each in recording.files:
                target = Path(folder, each)
                target.parent.mkdir(parents=True, exist_ok=True)
                system.get_file(_below(root, each), str(target))
            yield Path(folder)
