"""The recordings of a course folder: where they lie, and which files each is made of."""

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from imu_rom.course.store import RESULTS

__all__ = ["MOTION", "NOT_RAW", "FoundRecording", "find_recordings", "sidecar_names"]

MOTION = "_motion.tsv"
DELIMITED = (".csv", ".tsv", ".txt")
# of a BIDS dataset and of the course itself, beside what each recording has
NO_RECORDING = ("diary.csv", "participants.tsv", "samples.tsv", "sessions.tsv", "README.txt", "CHANGES.txt")
_SIDECARS = ("_channels.tsv", "_events.tsv", "_scans.tsv", "_sessions.tsv", "_physio.tsv", "_beh.tsv")
_PLANS = "plans"
# of a BIDS dataset: what its recordings were made from, or what was made of them
NOT_RAW = ("sourcedata", "derivatives")


@dataclass(frozen=True)
class FoundRecording:
    """One recording below the course folder.

    Parameters
    ----------
    path : Path
        Its ``_motion.tsv``, or its delimited file.
    place : str
        The same within the course folder.
    files : tuple of Path
        All files that its samples and their meaning are read from, without a ``_scans.tsv``.
    """

    path: Path
    place: str
    files: tuple[Path, ...]

    @property
    def is_bids(self) -> bool:
        """True for BIDS Motion."""
        return self.path.name.endswith(MOTION)

    @property
    def subject(self) -> str | None:
        """BIDS label of the person, where the name has one."""
        match = re.match(r"sub-([0-9A-Za-z]+)_", self.path.name)
        return match[1] if match and self.is_bids else None

    @property
    def result_name(self) -> str:
        """Name of the folder below ``results/`` that its own result gets; no two recordings have the same."""
        stem = self.path.name.removesuffix(MOTION) if self.is_bids else self.place.rsplit(".", 1)[0]
        return re.sub(r"[^0-9A-Za-z_.-]+", "-", stem).strip("-.") or "recording"


def find_recordings(folder: Path) -> tuple[FoundRecording, ...]:
    """Find the recordings of a course folder.

    Parameters
    ----------
    folder : Path
        The course folder. Looked through are all folders below it but ``results``, ``plans``, those of a BIDS dataset
        that hold no raw recordings, and hidden ones.

    Returns
    -------
    tuple of FoundRecording
        In order of places.
    """
    found = []
    for path in sorted(_files(folder)):
        within = path.relative_to(folder)
        if path.suffix.lower() not in DELIMITED or path.name in NO_RECORDING or not path.is_file():
            continue
        if path.name.endswith(MOTION):
            found.append(FoundRecording(path, within.as_posix(), (path, *_sidecars(path))))
        elif not path.name.endswith(_SIDECARS):
            found.append(FoundRecording(path, within.as_posix(), (path,)))
    return tuple(found)


def _files(folder: Path) -> Iterator[Path]:
    # folders that hold no recordings are not entered: hundreds of results lie in one
    for place, folders, names in os.walk(folder):
        no_raw = {RESULTS, _PLANS, *NOT_RAW} if Path(place) == folder else set(NOT_RAW)
        folders[:] = [each for each in folders if not each.startswith(".") and each not in no_raw]
        yield from (Path(place, each) for each in names if not each.startswith("."))


def sidecar_names(motion: str) -> tuple[str, ...]:
    """Name the files that may lie beside a recording and are part of it, without a ``_scans.tsv``.

    Parameters
    ----------
    motion : str
        File name of its ``_motion.tsv``.

    Returns
    -------
    tuple of str
        File names.
    """
    stem = motion.removesuffix(MOTION)
    without = re.sub(r"_tracksys-[0-9A-Za-z]+", "", stem)
    names = [f"{stem}{each}" for each in ("_motion.json", "_channels.tsv", "_channels.json", "_events.tsv")]
    names += [f"{stem}_events.json", f"{without}_events.tsv", f"{without}_events.json"]
    return tuple(dict.fromkeys(names))


def _sidecars(motion: Path) -> list[Path]:
    beside = [motion.with_name(name) for name in sidecar_names(motion.name)]
    return [each for each in beside if each.exists()]
